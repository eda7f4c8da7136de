package flows

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// The computed chance of a trip vetoes a switch-on while the readings since the repair
// leave a section out, and does not once every reading of the permit is good.
func TestVeto(t *testing.T) {
	src, err := os.ReadFile("../testdata/units/plate-warmer.yaml")
	require.NoError(t, err)
	u, problems := circuit.Parse("plate-warmer.yaml", src)
	require.Empty(t, problems)
	b := &bench{unit: u}
	landed, _, frame, _ := b.engine().Permit(circuit.State{})
	j := Job{Opened: &Opened{Unit: u.Hash}, Told: []Told{{What: "leads", Value: "0.2"}, {What: "mended at", Value: "10"}}}
	read := func(j Job, seq int, c isolate.Check) Job {
		v := b.engine().Network().Dead(c.Test.In)
		r := quantity.Reading{Class: quantity.Open, Unit: quantity.Ohm}
		if ohms := v.Ohms(c.Test.A, c.Test.B); ohms < 1e6 {
			d := quantity.DecimalOf(float64(ohms)+0.2, 3)
			r = quantity.Reading{Class: quantity.Value, Lo: d, Hi: d, Unit: quantity.Ohm}
		}
		j.Seen = append(j.Seen[:len(j.Seen):len(j.Seen)], isolate.Observation{Seq: seq, Test: c.Test, Got: r})
		return j
	}
	require.True(t, (&step{j: j, b: b}).vetoed(), "nothing read since the repair")
	before := j
	for i, c := range append(landed, frame...) {
		before = read(before, i+1, c) // before the repair: does not count
		j = read(j, 11+i, c)
	}
	require.True(t, (&step{j: before, b: b}).vetoed(), "all of it read before the repair")
	require.False(t, (&step{j: j, b: b}).vetoed(), "every reading good")
}
