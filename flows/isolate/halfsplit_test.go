package isolate

import (
	"testing"

	"halfsplit/flows/circuit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Half-split takes a reading that parts the suspects more evenly than any earlier one in
// the order of the candidates, whatever it costs: counted here by reading each suspect's
// likeliest fault off the solver.
func TestHalfSplitIsEven(t *testing.T) {
	m := warmer(t)
	b := m.Believe(Case{Complaint: TripsAtOnce, When: AtSwitch, Leads: 0.2}, nil)
	s := circuit.State{}.Uncover(0)
	c, err := m.HalfSplit(b, s, Bans{})
	require.NoError(t, err)
	require.Len(t, c.Tests, 1)
	shows := func(test Test) int {
		sound, err := m.net.DeadUnder(electrical(test.In), nil, nil)
		require.NoError(t, err)
		was := scale(float64(sound.Ohms(test.A, test.B)))
		n := 0
		for _, o := range b.Odds {
			top := circuit.Placed{Fault: o.Fault, Ohms: 0.5, At: 0.02}
			v, err := m.net.DeadUnder(electrical(test.In), []circuit.Placed{top}, nil)
			require.NoError(t, err)
			if is := scale(float64(v.Ohms(test.A, test.B))); was-is > 1 || is-was > 1 {
				n++
			}
		}
		return n
	}
	n, of := shows(c.Tests[0]), len(b.Odds)
	t.Logf("%d of %d suspects would show: %v", n, of, c.Tests[0])
	assert.Greater(t, n, of/5)
	assert.Less(t, n, of*4/5)

	again, err := m.HalfSplit(b, s, Bans{})
	require.NoError(t, err)
	assert.Equal(t, c, again)
	banned, err := m.HalfSplit(b, s, Bans{Keys: []string{c.Tests[0].Key}})
	require.NoError(t, err)
	assert.NotEqual(t, c.Tests[0].Key, banned.Tests[0].Key)
}
