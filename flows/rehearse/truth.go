// Package rehearse runs every fault of a unit through the real dialog with a simulated
// technician and a simulated meter, and counts how it ends. Truths lie off the engine's
// grid. All chance is seeded per fault and job, so the same seed gives the same bytes.
package rehearse

import (
	"math"
	"math/rand/v2"
	"strconv"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// Truth is one specimen of a unit with one fault, and the meter in the technician's
// hand.
type Truth struct {
	Fault  circuit.Placed
	Actual *circuit.Actual
	Leads  quantity.Ohms // leads and their contact
	Gain   float64       // what the meter multiplies by, near 1
	Pace   float64       // true minutes over those of the cost table, 0.5 to 2
	AtRest bool          // the breaker goes before the unit's own switch is touched
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
)

// drawTries is how often a fault's size and place are drawn before it is taken not to
// make the breaker go at once.
const drawTries = 300

// Draw makes a specimen with the given fault, of a size and at a place that make the
// breaker go at once. It reports false if none was found.
func Draw(n *circuit.Network, f circuit.Fault, rng *rand.Rand) (*Truth, bool) {
	u := n.Unit()
	t := &Truth{
		Actual: specimen(u, rng),
		Leads:  quantity.Ohms(leadsLeast + (leadsMost-leadsLeast)*rng.Float64()),
		Gain:   1 + meterError*(2*rng.Float64()-1),
		Pace:   math.Exp2(2*rng.Float64() - 1),
	}
	on, rest := isolate.InUse(u)
	for range drawTries {
		p, ok := place(f, rng)
		if !ok {
			return nil, false
		}
		chance := rng.Float64()
		before, err := n.Multiple(rest, []circuit.Placed{p}, t.Actual)
		if err != nil {
			return nil, false
		}
		if chance < isolate.GoesAtOnce(before) {
			t.Fault, t.AtRest = p, true
			return t, true
		}
		in, err := n.Multiple(on, []circuit.Placed{p}, t.Actual)
		if err != nil {
			return nil, false
		}
		if chance < isolate.GoesAtOnce(in) {
			t.Fault = p
			return t, true
		}
	}
	return nil, false
}

// place draws the size and place of a fault; false for one that never draws current.
func place(f circuit.Fault, rng *rand.Rand) (circuit.Placed, bool) {
	even := func(lo, hi float64) quantity.Ohms { // even over the logarithm
		return quantity.Ohms(lo * math.Pow(hi/lo, rng.Float64()))
	}
	p := circuit.Placed{Fault: f}
	switch f.Mode {
	case circuit.Earthed, circuit.EarthedTerm:
		p.Ohms = even(0.02, 10)
		// Half of all earths lie within the last twentieth of an element.
		p.At = rng.Float64()
		if rng.Float64() < 0.5 {
			p.At *= 0.05
		}
		if rng.Float64() < 0.5 {
			p.At = 1 - p.At
		}
	case circuit.Chafed, circuit.ShortCircuit:
		p.Ohms = even(0.02, 10)
	case circuit.ShortedTurns:
		p.Ohms = even(0.004, 0.8)
	default:
		return p, false
	}
	return p, true
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

// Read is what the meter shows between two points with the unit in a state: 1 % and
// counts, leads on top. Insulation that reads below the meter's range (dirt, moisture)
// is the specimen's own matter and drawn for each place: one place in twenty.
func (t *Truth) Read(n *circuit.Network, s circuit.State, a, b circuit.Node, rng *rand.Rand) (string, error) {
	var faults []circuit.Placed
	if t.Fault.Mode != circuit.NoFault {
		faults = []circuit.Placed{t.Fault}
	}
	v, err := n.DeadUnder(s, faults, t.Actual)
	if err != nil {
		return "", err
	}
	r := float64(v.Ohms(a, b))
	if r > overRange {
		if rng.Float64() < 0.05 {
			return show(2e6 * math.Pow(10, rng.Float64())), nil
		}
		return "OL", nil
	}
	return show(r*t.Gain + float64(t.Leads) + 0.03*(2*rng.Float64()-1)), nil
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
