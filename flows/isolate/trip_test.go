package isolate

import (
	"testing"

	"halfsplit/flows/circuit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// With nothing read there is the chance that something is still wrong; with every
// reading of the permit good there is next to none; with a short still in there is a
// great one. Leaving one section out is seen.
func TestTripChance(t *testing.T) {
	m := warmer(t)
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	landed, _, frame, _ := m.Permit(circuit.State{})
	readAll := func(f []circuit.Placed, checks ...Check) []Observation {
		var obs []Observation
		for i, ch := range checks {
			v, err := m.net.DeadUnder(electrical(ch.Test.In), f, nil)
			require.NoError(t, err)
			obs = append(obs, Observation{Seq: i + 1, Test: ch.Test, Got: readingOf(float64(v.Ohms(ch.Test.A, ch.Test.B)), 0.2)})
		}
		return obs
	}
	all := append(append([]Check(nil), landed...), frame...)
	assert.InDelta(t, stillWrong, m.TripChance(c, nil), 0.01)
	good := m.TripChance(c, readAll(nil, all...))
	assert.Less(t, good, 0.005)
	assert.Greater(t, m.TripChance(c, readAll(nil, landed[:1]...)), 0.05, "the bond alone says nothing of the rest")
	e1 := circuit.Fault{Mode: circuit.Earthed, Part: part(t, m, "E1"), Elem: 0, Wire: circuit.None, End: circuit.None}
	bad := m.TripChance(c, readAll([]circuit.Placed{{Fault: e1, Ohms: 0.1, At: 0}}, all...))
	assert.Greater(t, bad, 0.9)
}
