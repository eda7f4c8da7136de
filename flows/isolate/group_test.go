package isolate

import (
	"errors"
	"testing"

	"halfsplit/flows/circuit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Two suspects behind a cover that cannot be opened are an ambiguity group: both are
// named, neither is convicted, and no reading is offered that would not tell them apart.
func TestAmbiguityGroup(t *testing.T) {
	m := warmer(t)
	e1 := circuit.Fault{Mode: circuit.Earthed, Part: part(t, m, "E1"), Elem: 0, Wire: circuit.None, End: circuit.None}
	p := circuit.Placed{Fault: e1, Ohms: 0.1, At: 1}
	ban := Bans{Covers: []int{1, 2}} // the drawers
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	s := circuit.State{}.Uncover(0)
	var obs []Observation
	var b *Belief
	for range 30 {
		b = m.Believe(c, obs)
		require.NotEqual(t, Proved, b.Verdict, "nobody is convicted behind a closed cover")
		ch, err := m.Next(b, s, ban)
		if b.Verdict == Suspect {
			if ch, err = m.Confirm(b, s, ban); err != nil {
				break
			}
		}
		if errors.Is(err, ErrNothingTelling) || errors.Is(err, ErrNothingSafe) {
			break
		}
		require.NoError(t, err)
		s = done(m, s, ch.Acts)
		for _, test := range ch.Tests {
			v, err := m.net.DeadUnder(electrical(test.In), []circuit.Placed{p}, nil)
			require.NoError(t, err)
			obs = append(obs, Observation{Seq: len(obs) + 1, Test: test, Got: readingOf(float64(v.Ohms(test.A, test.B)), 0.2)})
		}
	}
	assert.Contains(t, b.Group, circuit.PartItem(e1.Part))
	assert.GreaterOrEqual(t, len(b.Group), 2)
	assert.LessOrEqual(t, len(b.Group), groupMost)
}
