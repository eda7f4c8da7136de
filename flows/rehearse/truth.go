// Package rehearse runs every fault of a unit through the real dialog with a simulated
// technician and a simulated meter, and counts how it ends. Truths lie off the engine's
// grid. All chance is seeded per fault and job, so the same seed gives the same bytes.
package rehearse

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// Truth is one specimen of a unit with what is wrong with it, and the meter in the
// technician's hand.
type Truth struct {
	World  *World
	Faults []circuit.Placed // of World.Unit; as drawn, the first is the one that is looked for
	Actual *circuit.Actual
	Leads  quantity.Ohms // leads and their contact
	Gain   float64       // what the meter multiplies by, near 1
	Pace   float64       // true minutes over those of the cost table, 0.5 to 2
	AtRest bool          // the breaker goes before the unit's own switch is touched
	Works  circuit.Bits  // parts of World.Unit that work, of a unit that does not trip
	latent bool          // only faults that were not looked for are left
	// Misplaced are wires, of the file, that are landed where they should not be and do
	// harm by that alone.
	Misplaced []circuit.Item
	// Solve gives the ohms between two points of World.Unit instead of the circuit
	// package; nil: that package does. For checks from outside.
	Solve func(t *Truth, s circuit.State, a, b circuit.Node) (float64, error)
}

// Spreads of specimens. Common practice, no source; the lamp's is that of a filament
// cold, whose resistance hardly any maker states.
const (
	elementSpread = 0.05
	lampSpread    = 0.35
	jointLeast    = 0.005
	jointMost     = 0.03
	leadsLeast    = 0.02
	leadsMost     = 0.32
	meterError    = 0.01
	// Sizes of faults, drawn evenly over the logarithm: ohms of earths and shorts, the
	// share of the turns that is left, ohms of a bad joint that stops a load.
	shortLeast, shortMost = 0.02, 10
	turnsLeast, turnsMost = 0.004, 0.8
	highLeast, highMost   = 10, 5e3
)

// drawTries is how often a fault's size and place are drawn before it is taken not to
// make the breaker go at once.
const drawTries = 300

// Draw makes a specimen with the given fault of a unit that is as its file says, of a
// size and at a place that bring about the complaint. It reports false if none was found.
func Draw(n *circuit.Network, f circuit.Fault, about isolate.Complaint, rng *rand.Rand) (*Truth, bool) {
	t := drawSpecimen(AsFiled(n), rng)
	return t, t.complains([]circuit.Fault{f}, about, rng)
}

// seldom is the chance of the complaint below which a fault, at its worst, has no job.
const seldom = 0.05

// couldComplain reports whether a fault at its worst brings about the complaint: one that
// does not need not be drawn again and again.
func couldComplain(n *circuit.Network, f circuit.Fault, about isolate.Complaint) bool {
	on, rest := isolate.InUse(n.Unit())
	worst := circuit.Placed{Fault: f}
	switch f.Mode {
	case circuit.OpenCircuit, circuit.Broken, circuit.NeverCloses:
	case circuit.HighOhms:
		worst.Ohms = highMost
	case circuit.ShortedTurns:
		worst.Ohms = turnsLeast
	default:
		worst.Ohms = shortLeast
	}
	if about == isolate.DoesNotWork {
		if f.Mode != circuit.HighOhms && worst.Ohms > 0 {
			return false
		}
		sound, err := isolate.WorkingUnder(n, nil, nil)
		if err != nil {
			return true
		}
		is, err := isolate.WorkingUnder(n, []circuit.Placed{worst}, nil)
		return err != nil || is != sound
	}
	if worst.Ohms == 0 || f.Mode == circuit.HighOhms {
		return false
	}
	for _, at := range []float64{0, 1} {
		worst.At = at
		for _, s := range []circuit.State{on, rest} {
			multiple, err := n.Multiple(s, []circuit.Placed{worst}, nil)
			if err != nil || isolate.GoesAtOnce(multiple) > seldom {
				return true
			}
		}
	}
	return false
}

// drawSpecimen draws the values of one sound unit, the meter and the technician's pace.
func drawSpecimen(w *World, rng *rand.Rand) *Truth {
	return &Truth{
		World:  w,
		Actual: specimen(w.Unit(), rng),
		Leads:  quantity.Ohms(leadsLeast + (leadsMost-leadsLeast)*rng.Float64()),
		Gain:   1 + meterError*(2*rng.Float64()-1),
		Pace:   math.Exp2(2*rng.Float64() - 1),
	}
}

// complains draws sizes and places of faults until they bring about the complaint. It
// reports false if they never do. Without faults the unit itself has to.
func (t *Truth) complains(faults []circuit.Fault, about isolate.Complaint, rng *rand.Rand) bool {
	n := t.World.net
	on, rest := isolate.InUse(n.Unit())
	tries := drawTries
	if len(faults) == 0 {
		tries = 1
	}
	for range tries {
		t.Faults = t.Faults[:0:0]
		for _, f := range faults {
			p, ok := place(f, about, rng)
			if !ok {
				return false
			}
			t.Faults = append(t.Faults, p)
		}
		chance := rng.Float64()
		before, err := n.Multiple(rest, t.Faults, t.Actual)
		if err != nil {
			return false
		}
		in, err := n.Multiple(on, t.Faults, t.Actual)
		if err != nil {
			return false
		}
		t.AtRest = chance < isolate.GoesAtOnce(before)
		trips := t.AtRest || chance < isolate.GoesAtOnce(in)
		if about != isolate.DoesNotWork {
			if trips {
				return true
			}
			continue
		}
		if trips {
			continue
		}
		if t.Works, err = isolate.WorkingUnder(n, t.Faults, t.Actual); err != nil {
			return false
		}
		sound, err := isolate.WorkingUnder(n, nil, t.Actual)
		if err != nil {
			return false
		}
		if t.Works != sound {
			return true
		}
	}
	return false
}

// place draws the size and place of a fault; false for one that cannot bring about the
// complaint.
func place(f circuit.Fault, about isolate.Complaint, rng *rand.Rand) (circuit.Placed, bool) {
	p := circuit.Placed{Fault: f}
	if about == isolate.DoesNotWork {
		switch f.Mode {
		case circuit.OpenCircuit, circuit.Broken, circuit.NeverCloses:
		case circuit.HighOhms:
			p.Ohms = even(highLeast, highMost, rng)
		default:
			return p, false
		}
		return p, true
	}
	switch f.Mode {
	case circuit.Earthed, circuit.EarthedTerm:
		p.Ohms = even(shortLeast, shortMost, rng)
		// Half of all earths lie within the last twentieth of an element.
		p.At = rng.Float64()
		if rng.Float64() < 0.5 {
			p.At *= 0.05
		}
		if rng.Float64() < 0.5 {
			p.At = 1 - p.At
		}
	case circuit.Chafed, circuit.ShortCircuit:
		p.Ohms = even(shortLeast, shortMost, rng)
	case circuit.ShortedTurns:
		p.Ohms = even(turnsLeast, turnsMost, rng)
	default:
		return p, false
	}
	return p, true
}

// even draws evenly over the logarithm.
func even(lo, hi float64, rng *rand.Rand) quantity.Ohms {
	return quantity.Ohms(lo * math.Pow(hi/lo, rng.Float64()))
}

// specimen draws the values of one sound unit.
func specimen(u *circuit.Unit, rng *rand.Rand) *circuit.Actual {
	a := &circuit.Actual{}
	for _, part := range u.Parts {
		row := make([]quantity.Ohms, len(part.Elems))
		for i, e := range part.Elems {
			if e.Role != circuit.Resist || e.Ohms.Nominal <= 0 {
				continue
			}
			x := quantity.Ohms(2*rng.Float64() - 1)
			switch {
			case u.Skeleton:
				// The sketch knows next to nothing of the part: anything in its range.
				row[i] = e.Ohms.Lo * quantity.Ohms(math.Pow(float64(e.Ohms.Hi/e.Ohms.Lo), float64(x+1)/2))
			case part.Kind == circuit.KindElement:
				row[i] = e.Ohms.Nominal * (1 + elementSpread*x)
			case part.Kind == circuit.KindLamp:
				row[i] = e.Ohms.Nominal * (1 + lampSpread*x)
			default:
				row[i] = e.Ohms.Lo + (e.Ohms.Hi-e.Ohms.Lo)*(x+1)/2
			}
		}
		a.Elems = append(a.Elems, row)
	}
	for range 2 * len(u.Wires) {
		a.Joints = append(a.Joints, quantity.Ohms(jointLeast+(jointMost-jointLeast)*rng.Float64()))
	}
	return a
}

// Read is what the meter shows between two points of the file with wires and switches
// as in a state of the file: 1 % and counts, leads on top. Insulation that reads below
// the meter's range (dirt, moisture) is drawn for each reading: one in twenty.
func (t *Truth) Read(s circuit.State, a, b circuit.Node, rng *rand.Rand) (string, error) {
	solve := t.Solve
	if solve == nil {
		solve = byCircuit
	}
	r, err := solve(t, s, t.World.node(a), t.World.node(b))
	if err != nil {
		return "", err
	}
	if r > overRange {
		if rng.Float64() < 0.05 {
			return show(2e6 * math.Pow(10, rng.Float64())), nil
		}
		return "OL", nil
	}
	return show(r*t.Gain + float64(t.Leads) + 0.03*(2*rng.Float64()-1)), nil
}

// byCircuit reads the circuit as package circuit solves it.
func byCircuit(t *Truth, s circuit.State, a, b circuit.Node) (float64, error) {
	v, err := t.World.net.DeadUnder(s, t.Faults, t.Actual)
	if err != nil {
		return 0, err
	}
	return float64(v.Ohms(a, b)), nil
}

// items are the items at fault, as the file calls them; those it does not have are
// left out.
func (t *Truth) items() []circuit.Item {
	out := slices.Clone(t.Misplaced)
	for _, f := range t.Faults {
		if it, ok := t.World.item(t.World.Unit().Item(f.Fault)); ok {
			out = append(out, it)
		}
	}
	return out
}

// mend takes out of the specimen the faults of an item of the file. It reports whether
// it had any.
func (t *Truth) mend(it circuit.Item) bool {
	var left []circuit.Placed
	for _, f := range t.Faults {
		if own, ok := t.World.item(t.World.Unit().Item(f.Fault)); !ok || own != it {
			left = append(left, f)
		}
	}
	mended := len(left) < len(t.Faults)
	if mended && !t.latent {
		t.latent = !slices.Contains(left, t.Faults[0])
	}
	t.Faults = left
	if slices.Contains(t.Misplaced, it) {
		t.World, t.Misplaced, mended = AsFiled(circuit.NewNetwork(t.World.file)), nil, true
	}
	return mended
}

// sound reports whether nothing is wrong with the specimen any more.
func (t *Truth) sound() bool {
	return len(t.Faults) == 0 && len(t.Misplaced) == 0 && len(t.Actual.Leak) == 0
}

// unmended reports whether what was looked for is still in.
func (t *Truth) unmended() bool {
	return len(t.Misplaced) > 0 || len(t.Faults) > 0 && !t.latent || len(t.Actual.Leak) > 0
}

// mayTrip reports whether the breaker could go when the unit is used as it is now.
func (t *Truth) mayTrip() bool {
	on, _ := isolate.InUse(t.World.Unit())
	multiple, err := t.World.net.Multiple(on, t.Faults, t.Actual)
	return err != nil || isolate.GoesAtOnce(multiple) > 0
}

// trips reports whether the breaker goes when the unit is switched on as it is now, with
// its own switch on or not.
func (t *Truth) trips(unitOn bool, rng *rand.Rand) bool {
	on, rest := isolate.InUse(t.World.Unit())
	if !unitOn {
		on = rest
	}
	multiple, err := t.World.net.Multiple(on, t.Faults, t.Actual)
	return err == nil && rng.Float64() < isolate.GoesAtOnce(multiple)
}

// allWork reports whether every load works when the unit is switched on as it is now.
func (t *Truth) allWork() bool {
	is, err := isolate.WorkingUnder(t.World.net, t.Faults, t.Actual)
	if err != nil {
		return false
	}
	sound, err := isolate.WorkingUnder(t.World.net, nil, t.Actual)
	return err == nil && is == sound
}

// overRange is where the simulated meter shows OL, in ohms.
const overRange = 4e7

// show writes ohms as a 6,000-count meter shows them and a technician types them.
func show(ohms float64) string {
	ohms = math.Max(0, ohms)
	fixed := func(x float64, full float64, unit string) string {
		places := 1
		switch {
		case full < 10:
			places = 3
		case full < 100:
			places = 2
		}
		return strconv.FormatFloat(x, 'f', places, 64) + unit
	}
	switch {
	case ohms < 600:
		return fixed(ohms, 600, " ohm")
	case ohms < 6e3:
		return fixed(ohms/1e3, 6, "k")
	case ohms < 60e3:
		return fixed(ohms/1e3, 60, "k")
	case ohms < 600e3:
		return fixed(ohms/1e3, 600, "k")
	case ohms < 6e6:
		return fixed(ohms/1e6, 6, "M")
	default:
		return fixed(ohms/1e6, 60, "M")
	}
}
