package rehearse

import (
	"bytes"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is there differs from the file as each class says.
func TestUnmodelled(t *testing.T) {
	u := warmer(t)
	b := newBench(Config{Unit: u})
	var earthed circuit.Fault
	for _, f := range circuit.AllFaults(u) {
		if f.Name(u) == "element E1 earthed" {
			earthed = f
		}
	}
	for _, class := range unmodelledOnes() {
		var truth *Truth
		for rep := range 50 {
			if k, ok := class.draw(b, earthed, seedOf(1, class.name, rep)); ok {
				truth = k
				break
			}
		}
		require.NotNil(t, truth, class.name)
		real := truth.World.Unit()
		wires, parts := len(real.Wires)-len(u.Wires), len(real.Parts)-len(u.Parts)
		switch class.name {
		case "jumper across a limit or thermostat":
			assert.Equal(t, 1, wires)
		case "two wires swapped at a contactor", "wires laid otherwise than in the file":
			assert.Zero(t, wires)
			assert.NotEqual(t, u.Wires, real.Wires)
		case "heater that the file does not have":
			assert.Equal(t, 2, wires)
			assert.Equal(t, 1, parts)
		case "second fault at another item":
			require.Len(t, truth.Faults, 2)
			assert.NotEqual(t, u.Item(truth.Faults[0].Fault), u.Item(truth.Faults[1].Fault))
		case "wet: several branches to frame":
			leaks := 0
			for _, g := range truth.Actual.Leak {
				if g > 0 {
					leaks++
					assert.Greater(t, 1/g, 999.0)
					assert.Less(t, 1/g, 5.01e5)
				}
			}
			assert.GreaterOrEqual(t, leaks, 2)
		}
	}
	// The file itself is never touched.
	assert.Equal(t, warmer(t), u)
}

// What the file does not model is asked about safely, never closed as repaired, and ends
// the same way each time. How often it ends well is printed by halfsplit rehearse
// --unknown.
func TestUnknown(t *testing.T) {
	c := Config{Unit: warmer(t), Seeds: []uint64{2}, Each: 2, Workers: 2}
	results, err := RunUnknown(c)
	require.NoError(t, err)
	assert.Len(t, results, 2*len(unmodelledOnes()))
	s := Sum(results)
	assert.Zero(t, s.Unsafe)
	assert.Zero(t, s.Silent)
	for _, class := range ByClass(results) {
		switch class.Fault {
		case "LED lamp in a filament's place", "wet: several branches to frame", "second fault at another item", "wires laid otherwise than in the file":
			assert.Zero(t, class.Wrong, class.Fault)
			assert.Zero(t, class.NoEnd, class.Fault)
		}
	}
	var one, two bytes.Buffer
	require.NoError(t, PrintUnknown(&one, c.Unit, results))
	c.Workers, c.Each = 1, 1
	again, err := RunUnknown(c)
	require.NoError(t, err)
	for i, r := range again {
		assert.Equal(t, results[2*i], r)
	}
	require.NoError(t, PrintUnknown(&two, c.Unit, results))
	assert.Equal(t, one.String(), two.String())
	assert.Contains(t, one.String(), "found or handed over")
}

// A part that does not work: opens, broken wires, bad joints and contacts that never
// close, of specimens off the engine's grid, from what works and dead readings.
func TestDoesNotWorkOffGrid(t *testing.T) {
	results, err := Run(Config{Unit: warmer(t), Seeds: []uint64{3}, Each: 1, Complaint: isolate.DoesNotWork, Silent: true, Workers: 2})
	require.NoError(t, err)
	s := Sum(results)
	t.Logf("%d jobs: %d found, %d wrong, %.1f readings", s.Jobs, s.Right, s.Wrong, s.Readings)
	assert.Greater(t, s.Jobs, 60)
	assert.Zero(t, s.Wrong)
	assert.GreaterOrEqual(t, s.Right, s.Jobs*9/10)
	modes := map[circuit.Mode]int{}
	for _, r := range results {
		modes[r.Fault.Mode]++
	}
	assert.Len(t, modes, 4)
}

// Half-split and part by part run over the same truths as the dialog and find the same.
func TestComparisons(t *testing.T) {
	results, err := Run(Config{Unit: warmer(t), Seeds: []uint64{4}, Each: 1, Faults: "e3", Workers: 2})
	require.NoError(t, err)
	s := Sum(results)
	assert.Greater(t, s.Jobs, 2)
	assert.Equal(t, s.Jobs, s.HalfRight)
	assert.Equal(t, s.Jobs, s.PartRight)
	assert.Less(t, s.HalfMinutes, s.PartMinutes/3)
	assert.Less(t, s.Engine, s.HalfMinutes*1.2)
	assert.InDelta(t, s.HalfMinutes-s.Engine, s.EngineSaved, 1e-9)
	assert.Greater(t, s.EngineSavedErr, 0.0)
}
