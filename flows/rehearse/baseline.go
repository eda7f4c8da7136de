package rehearse

import (
	"errors"
	"math/rand/v2"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// Outcome is how one search for a fault ended.
type Outcome struct {
	Found    circuit.Item // convicted; zero value with Proved false
	Proved   bool
	Readings int
	Lifts    int
	Covers   int
	Minutes  float64 // of the simulated technician, landing and covers on included
}

// PartByPart tests every part and wire in the order of the file, each isolated and
// directly, until the same belief with the same stop rule convicts one: what the dialog
// is compared with. Wires go back on after each test; covers stay off.
func PartByPart(m *isolate.Model, t *Truth, c isolate.Case, start circuit.State, rng *rand.Rand) (Outcome, error) {
	var out Outcome
	var seen []isolate.Observation
	state := start
	b := m.Believe(c, nil)
	for _, f := range circuit.AllFaults(m.Unit()) {
		ch, err := m.ConfirmFault(b, f, state, isolate.Bans{})
		if errors.Is(err, isolate.ErrNothingTelling) || errors.Is(err, isolate.ErrNothingSafe) {
			continue // it does not explain the complaint, or is cleared by what was read
		}
		if err != nil {
			return out, err
		}
		for _, a := range ch.Acts {
			switch a.Kind {
			case isolate.OpenCover:
				state = state.Uncover(a.Cover)
				out.Covers++
			case isolate.Lift:
				out.Lifts++
			}
		}
		out.Minutes += t.Pace * m.Minutes(ch.Acts, len(ch.Tests))
		for _, test := range ch.Tests {
			out.Readings++
			text, err := t.Read(m.Network(), test.In, test.A, test.B, rng)
			if err != nil {
				return out, err
			}
			got, doubt := quantity.Parse(text, quantity.Want{Unit: quantity.Ohm})
			if doubt != nil {
				return out, errors.New("rehearse: simulated meter shows what cannot be read: " + text)
			}
			seen = append(seen, isolate.Observation{Seq: len(seen) + 1, Test: test, Got: got})
		}
		b = m.Believe(c, seen)
		if b.Verdict == isolate.Proved {
			out.Proved, out.Found = true, b.Odds[0].Item
			return out, nil
		}
	}
	return out, nil
}
