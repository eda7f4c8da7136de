package isolate

import (
	"errors"
	"math/rand/v2"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// told is the complaint that a fault gives: which loads work and which do not.
func told(t testing.TB, m *Model, f circuit.Placed) Case {
	t.Helper()
	works, err := WorkingUnder(m.net, []circuit.Placed{f}, nil)
	require.NoError(t, err)
	c := Case{Complaint: DoesNotWork, Leads: 0.2}
	for _, p := range m.Loads() {
		if works.Has(int(p)) {
			c.Works = append(c.Works, p)
		} else {
			c.Dead = append(c.Dead, p)
		}
	}
	return c
}

// Every open, broken wire, bad joint and contact that never closes is found from what
// does not work and dead readings alone, or nobody is convicted.
func TestDoesNotWork(t *testing.T) {
	m := warmer(t)
	rng := rand.New(rand.NewPCG(3, 1))
	found, handed, wrong, jobs, readings := 0, 0, 0, 0, 0
	for _, f := range circuit.AllFaults(m.unit) {
		p := circuit.Placed{Fault: f}
		switch f.Mode {
		case circuit.OpenCircuit, circuit.Broken, circuit.NeverCloses:
		case circuit.HighOhms:
			p.Ohms = quantity.Ohms(150 + 800*rng.Float64())
		default:
			continue
		}
		c := told(t, m, p)
		if len(c.Dead) == 0 {
			continue
		}
		jobs++
		s := circuit.State{}.Uncover(0)
		var obs []Observation
		end := ""
		for range 30 {
			b := m.Believe(c, obs)
			if b.Verdict == Proved {
				if b.Odds[0].Item == m.unit.Item(f) {
					found++
				} else {
					wrong++
					t.Errorf("%s: %s convicted", f.Name(m.unit), b.Odds[0].Item.Name(m.unit))
				}
				end = "found"
				break
			}
			ch, err := m.Confirm(b, s, Bans{})
			if b.Verdict != Suspect || errors.Is(err, ErrNothingTelling) {
				ch, err = m.Next(b, s, Bans{})
			}
			if b.Verdict == Beyond {
				err = errors.New("beyond the file")
			}
			if err != nil {
				end = err.Error()
				break
			}
			s = done(m, s, ch.Acts)
			for _, test := range ch.Tests {
				v, err := m.net.DeadUnder(electrical(test.In), []circuit.Placed{p}, nil)
				require.NoError(t, err)
				obs = append(obs, Observation{Seq: len(obs) + 1, Test: test, Got: readingOf(float64(v.Ohms(test.A, test.B)), 0.2)})
				readings++
			}
		}
		if end != "found" {
			handed++
			t.Logf("%s: %s after %d readings", f.Name(m.unit), end, len(obs))
		}
	}
	t.Logf("%d jobs: %d found, %d not, %d wrong, %.1f readings", jobs, found, handed, wrong, float64(readings)/float64(jobs))
	assert.Zero(t, wrong)
	assert.Greater(t, jobs, 60)
	assert.LessOrEqual(t, handed, jobs/20)
}
