package isolate

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
	"halfsplit/testdata/unitgen"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everyUnit is each unit of the library and invented ones.
func everyUnit(t *testing.T, invented int) map[string]*Model {
	t.Helper()
	files, err := filepath.Glob("../../testdata/units/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	out := make(map[string]*Model)
	for _, f := range files {
		src, err := os.ReadFile(f)
		require.NoError(t, err)
		out[filepath.Base(f)] = modelOf(t, f, string(src))
	}
	for seed := range uint64(invented) {
		name := fmt.Sprintf("invented %d", seed)
		out[name] = modelOf(t, name, unitgen.Text(seed))
	}
	return out
}

// The permit lets no fault by that would make the breaker go: for every size and place
// of every such fault at least one reading is not good enough, and sound specimens pass
// whatever their tolerances. On every unit there is.
func TestPermitCatchesEveryTrip(t *testing.T) {
	for name, m := range everyUnit(t, 20) {
		t.Run(name, func(t *testing.T) { permitHolds(t, m) })
	}
}

func permitHolds(t *testing.T, m *Model) {
	landed, ready, frame, off := m.Permit(circuit.State{})
	require.NotEmpty(t, landed)
	require.NotEmpty(t, frame)
	assert.Empty(t, ready.Lifted)
	assert.Equal(t, len(m.NeutralEnds()), off.Lifted.Len())
	all := append(append([]Check(nil), landed...), frame...)
	const leads quantity.Ohms = 0.2
	passes := func(f []circuit.Placed, act *circuit.Actual) (Check, bool) {
		views := make(map[circuit.State]*circuit.Solved)
		for _, c := range all {
			s := electrical(c.Test.In)
			v := views[s]
			if v == nil {
				var err error
				v, err = m.net.DeadUnder(s, f, act)
				require.NoError(t, err)
				views[s] = v
			}
			if !c.Passed(readingOf(float64(v.Ohms(c.Test.A, c.Test.B)), leads), leads) {
				return c, false
			}
		}
		return Check{}, true
	}
	rng := rand.New(rand.NewPCG(7, 7))
	for range 50 {
		act := &circuit.Actual{}
		for _, p := range m.unit.Parts {
			row := make([]quantity.Ohms, len(p.Elems))
			for i, e := range p.Elems {
				if e.Role == circuit.Resist {
					row[i] = e.Ohms.Lo + quantity.Ohms(rng.Float64())*(e.Ohms.Hi-e.Ohms.Lo)
				}
			}
			act.Elems = append(act.Elems, row)
		}
		c, ok := passes(nil, act)
		require.True(t, ok, "a sound specimen is refused: kind %d at %s, least %v", c.Kind, c.Test.Key, c.Min)
	}
	caught := 0
	for i := range m.vars {
		v := &m.vars[i]
		if v.on < 0.05 && v.off < 0.05 { // the limit of the computed chance of a trip
			continue
		}
		caught++
		if _, ok := passes([]circuit.Placed{v.Placed}, nil); ok {
			t.Errorf("%s of %v at %v would trip (%.2f, %.2f) and passes", v.Name(m.unit), v.Ohms, v.At, v.on, v.off)
		}
	}
	t.Logf("%d parts, %d readings, %d faults that would trip", len(m.unit.Parts), len(all), caught)
	assert.Positive(t, caught)
}
