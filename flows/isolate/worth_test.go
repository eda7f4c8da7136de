package isolate

import (
	"testing"

	"halfsplit/flows/circuit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The worth of a reading that Next asks for alone is the gain it was chosen by, and it is
// nothing once the reading was made: the same points in the same state say the same again.
func TestWorth(t *testing.T) {
	m := warmer(t)
	s := circuit.State{}.Uncover(0)
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	b := m.Believe(c, nil)
	ch, err := m.Next(b, s, Bans{})
	require.NoError(t, err)
	if len(ch.Tests) == 1 {
		assert.InDelta(t, ch.Gain, m.Worth(b, ch.Tests[0]), 1e-9)
	}
	assert.Greater(t, m.Worth(b, ch.Tests[0]), 0.1)
	frame := m.TestAt(m.net.Term(m.unit.Sources[0].Feeds[3].Term), circuit.Chassis, s)
	assert.Less(t, m.Worth(b, frame), m.Worth(b, ch.Tests[0])/10, "ground to frame tells next to nothing about a trip")
}

// Shares of the modes of an item sum to the whole of it, likeliest first.
func TestModes(t *testing.T) {
	m := warmer(t)
	b := m.Believe(Case{Complaint: TripsAtOnce, Leads: 0.2}, nil)
	for _, o := range b.Odds {
		if o.PerMille == 0 {
			continue
		}
		sum, last := 0, 1001
		modes := m.Modes(b, o.Item)
		require.NotEmpty(t, modes)
		assert.Equal(t, o.Fault, modes[0].Fault)
		for _, x := range modes {
			assert.Equal(t, o.Item, m.unit.Item(x.Fault))
			assert.LessOrEqual(t, x.PerMille, last)
			sum, last = sum+x.PerMille, x.PerMille
		}
		assert.InDelta(t, 1000, sum, 10)
	}
}
