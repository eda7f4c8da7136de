package rehearse

import (
	"errors"
	"fmt"
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

// search is a search for a fault outside the dialog: acts and readings only, each done
// as asked.
type search struct {
	Outcome
	model *isolate.Model
	truth *Truth
	about isolate.Case
	rng   *rand.Rand
	state circuit.State
	seen  []isolate.Observation
}

// take does what a choice asks for.
func (s *search) take(ch isolate.Choice) error {
	for _, a := range ch.Acts {
		switch a.Kind {
		case isolate.OpenCover:
			s.state = s.state.Uncover(a.Cover)
			s.Covers++
		case isolate.Lift:
			s.state = s.state.Lift(a.End)
			s.Lifts++
		case isolate.Land:
			s.state = s.state.Land(a.End)
		case isolate.Move:
			s.state = s.state.Move(s.model.Unit(), a.Part, a.To)
		}
	}
	s.Minutes += s.truth.Pace * s.model.Minutes(ch.Acts, len(ch.Tests))
	for _, test := range ch.Tests {
		s.Readings++
		text, err := s.truth.Read(test.In, test.A, test.B, s.rng)
		if err != nil {
			return err
		}
		got, doubt := quantity.Parse(text, quantity.Want{Unit: quantity.Ohm})
		if doubt != nil {
			return fmt.Errorf("rehearse: simulated meter shows what cannot be read: %q", text)
		}
		s.seen = append(s.seen, isolate.Observation{Seq: len(s.seen) + 1, Test: test, Got: got})
	}
	return nil
}

// proved reports whether the readings so far convict an item, and keeps it.
func (s *search) proved(b *isolate.Belief) bool {
	if b.Verdict == isolate.Proved {
		s.Proved, s.Found = true, b.Odds[0].Item
	}
	return s.Proved
}

// PartByPart tests every part and wire in the order of the file, each isolated and
// directly, until the same belief with the same stop rule convicts one: what the dialog
// is compared with. Wires go back on after each test; covers stay off.
func PartByPart(m *isolate.Model, t *Truth, c isolate.Case, start circuit.State, rng *rand.Rand) (Outcome, error) {
	s := search{model: m, truth: t, about: c, rng: rng, state: start}
	b := m.Believe(c, nil)
	for _, f := range circuit.AllFaults(m.Unit()) {
		s.state = circuit.State{Off: s.state.Off}
		ch, err := m.ConfirmFault(b, f, s.state, isolate.Bans{})
		if errors.Is(err, isolate.ErrNothingTelling) || errors.Is(err, isolate.ErrNothingSafe) {
			continue // it does not explain the complaint, or is cleared by what was read
		}
		if err != nil {
			return s.Outcome, err
		}
		if err := s.take(ch); err != nil {
			return s.Outcome, err
		}
		b = m.Believe(c, s.seen)
		if s.proved(b) {
			break
		}
	}
	return s.Outcome, nil
}

// Chooser chooses the next reading.
type Chooser func(b *isolate.Belief, s circuit.State, ban isolate.Bans) (isolate.Choice, error)

// searchMost ends a search that does not end by itself.
const searchMost = 80

// Search looks for the fault with the readings that next chooses, and the direct test of
// whatever comes beyond the threshold, until the stop rule of the dialog: an item
// convicted, several branches wet, a fault that is not in the file, or no reading that
// would tell more. Next and HalfSplit of a model are choosers.
func Search(m *isolate.Model, t *Truth, c isolate.Case, start circuit.State, next Chooser, rng *rand.Rand) (Outcome, error) {
	s := search{model: m, truth: t, about: c, rng: rng, state: start}
	for s.Readings < searchMost {
		b := m.Believe(c, s.seen)
		if s.proved(b) || b.Wet || b.Verdict == isolate.Beyond {
			break
		}
		var ch isolate.Choice
		err := isolate.ErrNothingTelling
		if b.Verdict == isolate.Suspect {
			ch, err = m.Confirm(b, s.state, isolate.Bans{})
		}
		if err != nil {
			ch, err = next(b, s.state, isolate.Bans{})
		}
		if errors.Is(err, isolate.ErrNothingTelling) || errors.Is(err, isolate.ErrNothingSafe) {
			break
		}
		if err != nil {
			return s.Outcome, err
		}
		if err := s.take(ch); err != nil {
			return s.Outcome, err
		}
	}
	return s.Outcome, nil
}
