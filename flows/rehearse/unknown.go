package rehearse

import (
	"math"
	"math/rand/v2"
	"slices"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// unmodelled is one way in which what is there differs from all that the engine models.
type unmodelled struct {
	name string
	// draw makes a specimen of it with the given fault in it or, where it says so,
	// without; false if the unit has no room for it or the complaint does not come about.
	draw func(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool)
	tech func(*Tech)
}

func unmodelledOnes() []unmodelled {
	return []unmodelled{
		{name: "jumper across a limit or thermostat", draw: jumper},
		{name: "two wires swapped at a contactor", draw: swapped},
		{name: "LED lamp in a filament's place", draw: ledLamp},
		{name: "wet: several branches to frame", draw: wet},
		{name: "second fault at another item", draw: second},
		{name: "wires laid otherwise than in the file", draw: laidOtherwise},
		{name: "heater that the file does not have", draw: unlisted},
		{name: "wire left on every time", draw: asFiled, tech: func(t *Tech) { t.LeavesOn = true }},
	}
}

// RunUnknown talks jobs through in which the unit or the technician is otherwise than
// the engine models, a number for each class: Each, spread over the faults of the file
// and the seeds. Results are in the order of the classes.
func RunUnknown(c Config) ([]Result, error) {
	c.Silent, c.Complaint = true, isolate.TripsAtOnce
	b := newBench(c)
	var faults []circuit.Fault
	for _, f := range circuit.AllFaults(c.Unit) {
		if _, ok := place(f, c.Complaint, rand.New(rand.NewPCG(0, 0))); ok {
			faults = append(faults, f)
		}
	}
	var jobs []job
	for _, class := range unmodelledOnes() {
		for _, seed := range c.Seeds {
			for rep := range max(1, c.Each) {
				if len(faults) > 0 {
					jobs = append(jobs, job{seed: seed, class: class.name, rep: rep, fault: faults[0]})
				}
			}
		}
	}
	return b.all(jobs, func(jb job) (*Result, error) { return b.oneUnknown(jb, faults) })
}

// drawsUnknown is how many faults are tried for one job of a class.
const drawsUnknown = 40

func (b *bench) oneUnknown(jb job, faults []circuit.Fault) (*Result, error) {
	rng := seedOf(jb.seed, jb.class, jb.rep)
	list := unmodelledOnes()
	class := list[slices.IndexFunc(list, func(u unmodelled) bool { return u.name == jb.class })]
	for range drawsUnknown {
		truth, ok := class.draw(b, faults[rng.IntN(len(faults))], rng)
		if !ok {
			continue
		}
		own := *b
		own.config.Tech = class.tech
		res, err := own.play(truth, rng)
		if res != nil {
			res.Class = class.name
		}
		return res, err
	}
	return nil, nil
}

// asFiled is a unit that is as its file says.
func asFiled(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	t := drawSpecimen(AsFiled(b.net), rng)
	return t, t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng)
}

// jumper is a wire that the last man left across a limit, thermostat or door switch.
func jumper(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	d := redraw(b.config.Unit)
	var across [][2]circuit.TermID
	for _, part := range d.Parts {
		switch part.Kind {
		case circuit.KindLimit, circuit.KindStat, circuit.KindDoor:
			for _, el := range part.Elems {
				if el.Role == circuit.Contact {
					across = append(across, [2]circuit.TermID{el.A, el.B})
				}
			}
		}
	}
	if len(across) == 0 {
		return nil, false
	}
	at := across[rng.IntN(len(across))]
	d.wire(at[0], at[1])
	t := drawSpecimen(d.world(b.config.Unit), rng)
	return t, t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng)
}

// swapped is two wires landed on each other's screws of a contactor or relay. Where that
// alone makes the breaker go, nothing else is wrong: either wire is what is to blame.
func swapped(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	d := redraw(b.config.Unit)
	var pairs [][2]circuit.EndID
	for _, part := range d.Parts {
		if part.Kind != circuit.KindContact && part.Kind != circuit.KindRelay {
			continue
		}
		for i, t := range part.Terms {
			for _, o := range part.Terms[i+1:] {
				for _, e := range d.Terms[t].Ends {
					for _, x := range d.Terms[o].Ends {
						w, _ := e.Wire()
						v, _ := x.Wire()
						if w != v {
							pairs = append(pairs, [2]circuit.EndID{e, x})
						}
					}
				}
			}
		}
	}
	if len(pairs) == 0 {
		return nil, false
	}
	pair := pairs[rng.IntN(len(pairs))]
	at := func(e circuit.EndID) circuit.TermID {
		w, side := e.Wire()
		return d.Wires[w].Ends[side]
	}
	one, other := at(pair[0]), at(pair[1])
	d.move(pair[0], other)
	d.move(pair[1], one)
	t := drawSpecimen(d.world(b.config.Unit), rng)
	if t.complains(nil, isolate.TripsAtOnce, rng) {
		for _, e := range pair {
			w, _ := e.Wire()
			t.Misplaced = append(t.Misplaced, circuit.WireItem(w))
		}
		return t, true
	}
	return t, t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng)
}

// ledLamp is a lamp of other innards than the file says: OL or megohms to a meter.
func ledLamp(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	t := drawSpecimen(AsFiled(b.net), rng)
	var lamps []circuit.PartID
	for p, part := range b.config.Unit.Parts {
		if part.Kind == circuit.KindLamp && len(part.Elems) == 1 && part.Elems[0].Ohms.Hi < 1e4 {
			lamps = append(lamps, circuit.PartID(p))
		}
	}
	if len(lamps) == 0 {
		return nil, false
	}
	p := lamps[rng.IntN(len(lamps))]
	t.Actual.Elems[p][0] = 1e9
	if rng.IntN(2) == 0 {
		t.Actual.Elems[p][0] = even(1e6, 2e7, rng)
	}
	return t, t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng)
}

// wet is a unit that was hosed down: 1 kΩ to 500 kΩ to the frame at three to six
// terminals of different parts. Every other one has no other fault: what tripped was the
// water, and has boiled off.
func wet(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	u := b.config.Unit
	t := drawSpecimen(AsFiled(b.net), rng)
	t.Actual.Leak = make([]float64, b.net.Nodes())
	var live []circuit.PartID // what could leak
	for p, part := range u.Parts {
		if part.Kind != circuit.KindGround && len(part.Terms) > 0 {
			live = append(live, circuit.PartID(p))
		}
	}
	rng.Shuffle(len(live), func(i, j int) { live[i], live[j] = live[j], live[i] })
	for _, p := range live[:min(len(live), 3+rng.IntN(4))] {
		terms := u.Parts[p].Terms
		t.Actual.Leak[b.net.Term(terms[rng.IntN(len(terms))])] = 1 / float64(even(1e3, 5e5, rng))
	}
	if rng.IntN(2) == 0 {
		t.AtRest = rng.IntN(2) == 0
		return t, true
	}
	return t, t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng)
}

// second is another fault of any kind at another item.
func second(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	u := b.config.Unit
	t := drawSpecimen(AsFiled(b.net), rng)
	if !t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng) {
		return nil, false
	}
	all := circuit.AllFaults(u)
	for range drawsUnknown {
		g := all[rng.IntN(len(all))]
		if u.Item(g) == u.Item(f) {
			continue
		}
		p, ok := place(g, isolate.TripsAtOnce, rng)
		if !ok {
			p, ok = place(g, isolate.DoesNotWork, rng)
		}
		if ok {
			t.Faults = append(t.Faults, p)
			return t, true
		}
	}
	return nil, false
}

// laidOtherwise is a harness of another layout: one to three wires land on another
// terminal of the same net than the file says.
func laidOtherwise(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	d := redraw(b.config.Unit)
	type step struct {
		end circuit.EndID
		to  circuit.TermID
	}
	moved := 0
	for range 1 + rng.IntN(3) {
		var steps []step
		for t := range d.Terms {
			for _, e := range d.Terms[t].Ends {
				for _, x := range d.Terms[t].Ends {
					w, _ := e.Wire()
					v, side := x.Wire()
					to := d.Wires[v].Ends[1-side]
					if w != v && !d.Wires[w].Fixed && !d.Wires[v].Fixed && !slices.Contains(d.Wires[w].Ends[:], to) {
						steps = append(steps, step{e, to})
					}
				}
			}
		}
		if len(steps) == 0 {
			break
		}
		s := steps[rng.IntN(len(steps))]
		d.move(s.end, s.to)
		moved++
	}
	if moved == 0 {
		return nil, false
	}
	t := drawSpecimen(d.world(b.config.Unit), rng)
	return t, t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng)
}

// unlisted is a heater fed from the same studs as one that the file has. In every other
// one it is the heater that is earthed.
func unlisted(b *bench, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	d := redraw(b.config.Unit)
	var beside []circuit.Elem
	for _, part := range d.Parts {
		if part.Kind == circuit.KindElement && len(part.Elems) > 0 {
			beside = append(beside, part.Elems[0])
		}
	}
	if len(beside) == 0 {
		return nil, false
	}
	el := beside[rng.IntN(len(beside))]
	p := d.heater(d.fedFrom(el.A, rng), d.fedFrom(el.B, rng), el.Ohms.Nominal*quantity.Ohms(math.Exp2(2*rng.Float64()-1)))
	if rng.IntN(2) == 0 {
		f = circuit.Fault{Mode: circuit.Earthed, Part: p, Wire: circuit.None, End: circuit.None}
	}
	t := drawSpecimen(d.world(b.config.Unit), rng)
	return t, t.complains([]circuit.Fault{f}, isolate.TripsAtOnce, rng)
}

// fedFrom is a terminal at the far end of a wire of the file at a terminal.
func (d *drawing) fedFrom(t circuit.TermID, rng *rand.Rand) circuit.TermID {
	ends := d.Terms[t].Ends
	if len(ends) == 0 {
		return t
	}
	w, side := ends[rng.IntN(len(ends))].Wire()
	return d.Wires[w].Ends[1-side]
}
