package isolate

import (
	"math"
	"testing"

	"halfsplit/flows/circuit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every failure mode of every part and wire has a direct test: with the fault in the
// unit the reading convicts its item, with a sound unit it does not.
func TestEveryFaultHasAConfirmingTest(t *testing.T) {
	m := warmer(t)
	c := Case{Complaint: AnyComplaint, Leads: 0.2}
	b := m.Believe(c, nil)
	modes := make(map[circuit.Mode]int)
	for _, f := range circuit.AllFaults(m.unit) {
		ch, err := m.ConfirmFault(b, f, open(m), Bans{})
		if f.Mode == circuit.Welded && !m.unit.Parts[f.Part].ByHand {
			// A limit welded shut looks like a sound one until it is hot: no dead test can
			// tell, and none is claimed.
			assert.ErrorIs(t, err, ErrNothingTelling, f.Name(m.unit))
			assert.Equal(t, circuit.KindLimit, m.unit.Parts[f.Part].Kind)
			continue
		}
		if !assert.NoError(t, err, f.Name(m.unit)) {
			continue
		}
		require.Len(t, ch.Tests, 1)
		assert.Equal(t, f, *ch.Target)
		modes[f.Mode]++
		size := circuit.Placed{Fault: f, Ohms: 0.5, At: 0.01}
		switch f.Mode {
		case circuit.ShortedTurns:
			size.Ohms = 0.1
		case circuit.HighOhms:
			size.Ohms = 12
		}
		test := ch.Tests[0]
		v, err := m.net.DeadUnder(electrical(test.In), []circuit.Placed{size}, nil)
		require.NoError(t, err)
		bad := Observation{Test: test, Got: readingOf(float64(v.Ohms(test.A, test.B)), 0.2)}
		assert.True(t, m.convicts(c, m.unit.Item(f), bad), "%s: %v at %s", f.Name(m.unit), bad.Got, test.Key)
		sound := Observation{Test: test, Got: readingOf(float64(m.net.Dead(electrical(test.In)).Ohms(test.A, test.B)), 0.2)}
		assert.False(t, m.convicts(c, m.unit.Item(f), sound), "%s: sound unit convicts", f.Name(m.unit))
	}
	for mode := circuit.Earthed; mode <= circuit.EarthedTerm; mode++ {
		assert.Positive(t, modes[mode], "no fault of mode %s was tried", mode)
	}
}

// The least effort for an honest reading is found by trying every set of up to three
// ends in the unit, not only those that carry current.
func TestHonestAgainstBruteForce(t *testing.T) {
	m := warmer(t)
	for _, name := range []string{"K1:T1", "K1:T2", "X1:L1", "H1:1", "E2:2"} {
		for _, set := range []int{0, 1} {
			s := open(m).Move(m.unit, part(t, m, "S1"), set)
			test := m.TestAt(term(t, m, name), circuit.Chassis, s)
			if sound := m.net.Dead(electrical(s)).Ohms(test.A, test.B); sound >= noPath {
				continue
			}
			acts, _, ok := m.honest(test)
			got := math.Inf(1)
			if ok {
				got = m.Minutes(acts, 0)
				for _, a := range acts {
					assert.False(t, m.fixed(a.End))
				}
			}
			assert.InDelta(t, bruteHonest(m, test), got, 1e-9, "%s with S1 at %d", name, set)
		}
	}
}

func bruteHonest(m *Model, t Test) float64 {
	var ends []circuit.EndID
	for w, wire := range m.unit.Wires {
		if !wire.Fixed {
			e := circuit.WireID(w).Ends()
			ends = append(ends, e[0], e[1])
		}
	}
	keep := m.sidesOf(m.net.Dead(electrical(t.In)).Branches(t.A, t.B))
	best := math.Inf(1)
	check := func(set ...circuit.EndID) {
		st, acts, _ := m.lift(t.In, set)
		minutes := m.Minutes(acts, 0)
		if minutes >= best {
			return
		}
		v := m.net.Dead(electrical(st))
		if v.Ohms(t.A, circuit.Chassis) < noPath {
			return
		}
		for _, k := range keep {
			if k != t.A && v.Ohms(t.A, k) >= noPath {
				return
			}
		}
		best = minutes
	}
	for i := range ends {
		check(ends[i])
		for j := i + 1; j < len(ends); j++ {
			check(ends[i], ends[j])
			if best > 6.1 { // three lifts cost 7.5 minutes or more
				for k := j + 1; k < len(ends); k++ {
					check(ends[i], ends[j], ends[k])
				}
			}
		}
	}
	return best
}
