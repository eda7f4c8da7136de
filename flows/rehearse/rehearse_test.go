package rehearse

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func warmer(t testing.TB) *circuit.Unit {
	t.Helper()
	src, err := os.ReadFile("../../testdata/units/plate-warmer.yaml")
	require.NoError(t, err)
	u, problems := circuit.Parse("plate-warmer.yaml", src)
	require.Empty(t, problems)
	return u
}

// Bounds against the closed form: with none of n the one-sided bound is 1 - 0.05^(1/n),
// and "3 over n" for large n (J. A. Hanley and A. Lippman-Hand, JAMA 249, 1983). With
// one of n it solves (1-p)^n + n p (1-p)^(n-1) = 0.05.
func TestUpperBound(t *testing.T) {
	for _, n := range []int{1, 10, 100, 1000} {
		assert.InDelta(t, 1-math.Pow(0.05, 1/float64(n)), UpperBound(0, n), 1e-9, n)
	}
	assert.InDelta(t, 3.0/1000, UpperBound(0, 1000), 1e-5)
	p := UpperBound(1, 500)
	assert.InDelta(t, 0.05, math.Pow(1-p, 500)+500*p*math.Pow(1-p, 499), 1e-9)
	assert.Equal(t, 1.0, UpperBound(3, 3))
	assert.Equal(t, 1.0, UpperBound(0, 0))
}

// The simulated meter writes what the dialog's reader reads back, to the last digit
// shown.
func TestShowReadsBack(t *testing.T) {
	for _, ohms := range []float64{0, 0.04, 0.31, 9.96, 65.4, 599.9, 601, 5.99e3, 47e3, 599e3, 2.2e6, 9.1e6, 39e6} {
		text := show(ohms)
		got, doubt := quantity.Parse(text, quantity.Want{Unit: quantity.Ohm})
		require.Nil(t, doubt, text)
		assert.InDelta(t, ohms, got.Value(), 0.05+0.002*ohms, text)
	}
}

// The same seed gives the same bytes, whatever the number of workers; another seed does
// not. On the way: nobody convicted wrongly, every job ended, nothing switched on before
// the cause was proved.
func TestRunRepeats(t *testing.T) {
	u := warmer(t)
	report := func(seed uint64, workers int) (string, Score) {
		results, err := Run(Config{Unit: u, Seeds: []uint64{seed}, Each: 1, Misread: 0.05, Faults: "e1", Workers: workers})
		require.NoError(t, err)
		require.NotEmpty(t, results)
		var b bytes.Buffer
		require.NoError(t, Print(&b, u, results))
		raw, err := json.Marshal(ByFault(u, results))
		require.NoError(t, err)
		return b.String() + string(raw), Sum(results)
	}
	one, score := report(5, 1)
	two, _ := report(5, 3)
	other, _ := report(6, 1)
	assert.Equal(t, one, two)
	assert.NotEqual(t, one, other)
	assert.Zero(t, score.Wrong)
	assert.Zero(t, score.Silent)
	assert.Zero(t, score.NoEnd)
	assert.Zero(t, score.SwitchOns)
}

// Truths lie off the engine's grid and make the breaker go.
func TestDraw(t *testing.T) {
	u := warmer(t)
	net := circuit.NewNetwork(u)
	drawn := 0
	for _, f := range circuit.AllFaults(u) {
		a, ok := Draw(net, f, isolate.TripsAtOnce, seedOf(1, f, 0))
		b, again := Draw(net, f, isolate.TripsAtOnce, seedOf(1, f, 0))
		assert.Equal(t, ok, again)
		if !ok {
			continue
		}
		drawn++
		assert.Equal(t, a, b, "the same seed draws the same specimen")
		assert.Contains(t, []circuit.Mode{circuit.Earthed, circuit.EarthedTerm, circuit.Chafed, circuit.ShortCircuit, circuit.ShortedTurns}, f.Mode)
		assert.Len(t, a.Faults, 1)
		for p, row := range a.Actual.Elems {
			for e, r := range row {
				if r == 0 {
					continue
				}
				el := u.Parts[p].Elems[e]
				assert.GreaterOrEqual(t, float64(r), 0.6*float64(el.Ohms.Lo))
				assert.LessOrEqual(t, float64(r), 1.4*float64(el.Ohms.Hi))
			}
		}
	}
	assert.Greater(t, drawn, 30)
}

// A technician who misreads everything is never led to a job closed with the fault in.
func TestHopelessMeter(t *testing.T) {
	u := warmer(t)
	results, err := Run(Config{Unit: u, Seeds: []uint64{9}, Each: 1, Misread: 0.6, Faults: "chafed", Workers: 2, Silent: true})
	require.NoError(t, err)
	s := Sum(results)
	assert.Zero(t, s.Silent)
	assert.Zero(t, s.NoEnd)
}

// Without a file, from four questions, the same engine finds the fault of a specimen
// whose ohms lie anywhere in the sketch's wide ranges.
func TestSkeleton(t *testing.T) {
	u, problems := circuit.Skeleton(circuit.Answers{
		Volts: 208, Phases: 1, Neutral: true, Switch: true, Contactor: true, LoadWires: 4,
		Loads: []circuit.AnswerLoad{{Kind: circuit.KindElement, Count: 2}, {Kind: circuit.KindLamp, Count: 1, ToNeutral: true}},
	})
	require.Empty(t, problems)
	results, err := Run(Config{Unit: u, Seeds: []uint64{4}, Each: 1, Workers: 2, Silent: true})
	require.NoError(t, err)
	s := Sum(results)
	assert.Greater(t, s.Jobs, 12)
	assert.Zero(t, s.Wrong)
	assert.Zero(t, s.Silent)
	assert.Zero(t, s.NoEnd)
	assert.GreaterOrEqual(t, s.Right, s.Jobs-1)
}
