package rehearse

import (
	"slices"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// World is the unit as it really is, in front of the technician: that of the file the
// dialog uses, or one that differs from it. Parts, terminals and wires of the file have
// the same index in both; what the file does not have comes after them.
type World struct {
	net  *circuit.Network // of what is there
	file *circuit.Unit    // that the dialog uses
}

// AsFiled is a unit that is as its file says.
func AsFiled(n *circuit.Network) *World { return &World{net: n, file: n.Unit()} }

// Unit is the unit that is there.
func (w *World) Unit() *circuit.Unit { return w.net.Unit() }

// node is where a point of the file is.
func (w *World) node(n circuit.Node) circuit.Node {
	if i := int(n) - len(w.file.Terms); i >= 0 && i < len(w.file.Wires) {
		return w.net.Wire(circuit.WireID(i))
	}
	return n
}

// item is what an item of what is there is in the file; false if the file does not have
// it.
func (w *World) item(it circuit.Item) (circuit.Item, bool) {
	return it, int(it.Part) < len(w.file.Parts) && int(it.Wire) < len(w.file.Wires)
}

// drawing is a copy of a unit that can be changed.
type drawing struct{ circuit.Unit }

func redraw(u *circuit.Unit) *drawing {
	d := &drawing{*u}
	d.Parts = slices.Clone(u.Parts)
	d.Wires = slices.Clone(u.Wires)
	d.Terms = slices.Clone(u.Terms)
	for i := range d.Terms {
		d.Terms[i].Ends = slices.Clone(d.Terms[i].Ends)
	}
	return d
}

// world is the unit as it is drawn now, worked on with a file.
func (d *drawing) world(file *circuit.Unit) *World {
	return &World{net: circuit.NewNetwork(&d.Unit), file: file}
}

// wire adds a wire between two terminals.
func (d *drawing) wire(a, b circuit.TermID) circuit.WireID {
	w := circuit.WireID(len(d.Wires))
	d.Wires = append(d.Wires, circuit.Wire{Ends: [2]circuit.TermID{a, b}})
	for side, t := range []circuit.TermID{a, b} {
		d.Terms[t].Ends = append(d.Terms[t].Ends, w.Ends()[side])
	}
	return w
}

// move lands a wire end on another terminal.
func (d *drawing) move(e circuit.EndID, to circuit.TermID) {
	w, side := e.Wire()
	from := d.Wires[w].Ends[side]
	d.Terms[from].Ends = slices.DeleteFunc(d.Terms[from].Ends, func(o circuit.EndID) bool { return o == e })
	d.Terms[to].Ends = append(d.Terms[to].Ends, e)
	d.Wires[w].Ends[side] = to
}

// heater adds a heating element between two terminals, on wires of its own.
func (d *drawing) heater(a, b circuit.TermID, ohms quantity.Ohms) circuit.PartID {
	p := circuit.PartID(len(d.Parts))
	t := circuit.TermID(len(d.Terms))
	d.Terms = append(d.Terms, circuit.Terminal{Part: p, Name: "1"}, circuit.Terminal{Part: p, Name: "2"})
	d.Parts = append(d.Parts, circuit.Part{
		Tag: "?", Kind: circuit.KindElement, Cover: circuit.None, Terms: []circuit.TermID{t, t + 1},
		Elems: []circuit.Elem{{
			A: t, B: t + 1, Role: circuit.Resist, Ohms: circuit.Spread{Nominal: ohms, Lo: 0.95 * ohms, Hi: 1.1 * ohms},
			Modes: []circuit.Mode{circuit.Earthed, circuit.OpenCircuit, circuit.ShortedTurns},
		}},
	})
	d.wire(a, t)
	d.wire(b, t+1)
	return p
}
