package rehearse

import (
	"halfsplit/flows/circuit"
)

// World is the unit as it really is, in front of the technician: that of the file the
// dialog uses, or one that differs from it. It translates what the dialog speaks of into
// what is there: parts and terminals by their names, wires by number and colour.
type World struct {
	net  *circuit.Network // of what is there
	file *circuit.Unit    // that the dialog uses
	// By index in file: index in net's unit. Nil if they are the same.
	terms []circuit.TermID
	wires []circuit.WireID
	parts []circuit.PartID
}

// AsFiled is a unit that is as its file says.
func AsFiled(n *circuit.Network) *World { return &World{net: n, file: n.Unit()} }

// Differing is a unit that is as real says, worked on with another file. Every part and
// terminal of the file must be there; what is there may be more. A wire of the file is
// the one between the same terminals with the same marks; failing that, the one with the
// same number and colour. It reports false if something of the file is not there.
func Differing(file *circuit.Unit, real *circuit.Network) (*World, bool) {
	w := &World{net: real, file: file}
	there := real.Unit()
	tags := make(map[string]circuit.PartID)
	for p, part := range there.Parts {
		tags[part.Tag] = circuit.PartID(p)
	}
	names := make(map[string]circuit.TermID)
	for t := range there.Terms {
		names[there.TermName(circuit.TermID(t))] = circuit.TermID(t)
	}
	for _, part := range file.Parts {
		p, ok := tags[part.Tag]
		if !ok {
			return nil, false
		}
		w.parts = append(w.parts, p)
	}
	for t := range file.Terms {
		id, ok := names[file.TermName(circuit.TermID(t))]
		if !ok {
			return nil, false
		}
		w.terms = append(w.terms, id)
	}
	taken := make([]bool, len(there.Wires))
	find := func(fits func(circuit.WireID) bool) circuit.WireID {
		for i := range there.Wires {
			if !taken[i] && fits(circuit.WireID(i)) {
				taken[i] = true
				return circuit.WireID(i)
			}
		}
		return circuit.None
	}
	for i := range file.Wires {
		a := &file.Wires[i]
		w.wires = append(w.wires, find(func(k circuit.WireID) bool {
			b := &there.Wires[k]
			return a.Number == b.Number && a.Colour == b.Colour && w.terms[a.Ends[0]] == b.Ends[0] && w.terms[a.Ends[1]] == b.Ends[1]
		}))
	}
	for i := range file.Wires {
		if w.wires[i] != circuit.None {
			continue
		}
		a := &file.Wires[i]
		w.wires[i] = find(func(k circuit.WireID) bool {
			return a.Number == there.Wires[k].Number && a.Colour == there.Wires[k].Colour
		})
		if w.wires[i] == circuit.None {
			return nil, false
		}
	}
	return w, true
}

// Unit is the unit that is there.
func (w *World) Unit() *circuit.Unit { return w.net.Unit() }

// node is where a point of the file is.
func (w *World) node(n circuit.Node) circuit.Node {
	switch {
	case w.terms == nil || n < 0:
		return n
	case int(n) < len(w.terms):
		return w.net.Term(w.terms[n])
	case int(n) < len(w.terms)+len(w.wires):
		return w.net.Wire(w.wires[int(n)-len(w.terms)])
	}
	return n
}

// state is what is there with wires and switches as in a state of the file.
func (w *World) state(s circuit.State) circuit.State {
	if w.terms == nil {
		return s
	}
	var out circuit.State
	for _, e := range s.Lifted.Each() {
		wire, side := circuit.EndID(e).Wire()
		out = out.Lift(w.wires[wire].Ends()[side])
	}
	for p, real := range w.parts {
		out = out.Move(w.net.Unit(), real, s.Position(w.file, circuit.PartID(p)))
	}
	return out
}

// item is what an item of what is there is called in the file; false if the file does
// not have it.
func (w *World) item(it circuit.Item) (circuit.Item, bool) {
	if w.terms == nil {
		return it, true
	}
	for p, real := range w.parts {
		if it.Wire == circuit.None && real == it.Part {
			return circuit.PartItem(circuit.PartID(p)), true
		}
	}
	for i, real := range w.wires {
		if it.Part == circuit.None && real == it.Wire {
			return circuit.WireItem(circuit.WireID(i)), true
		}
	}
	return circuit.Item{Part: circuit.None, Wire: circuit.None}, false
}
