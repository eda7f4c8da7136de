package circuit_test

import (
	"math"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
)

// Mistakes with transformers are found and placed.
func TestTransformerProblems(t *testing.T) {
	for _, c := range []struct{ old, new, says string }{
		{"va: 40, ", "", `does not give "va"`},
		{"secondary: 24 V", "secondary: 24 W", "has the unit W"},
		{"kind: control transformer,", "kind: control transformer, taps: {H3: 200 V},", "not above the 208 V"},
		{"kind: control transformer,", "kind: control transformer, taps: {X3: 240 V},", "cannot be called"},
		{"  - T1:X1 - S1:1   blue 7\n", "", "T1:X1"},
		{"  - X1:L2 - T1:H2  red 2\n", "", "T1:H2"},
		// A 12 V lamp on the 24 V secondary, and one with both ends on one side.
		{"wires:\n", "  H1: {kind: lamp, volts: 12, watts: 5}\nwires:\n  - S1:2 - H1:1 blue 20\n  - H1:2 - T1:X2 blue 21\n", "rated 12 V but wired between T1:X1 and T1:X2"},
		{"wires:\n", "  H1: {kind: lamp, volts: 24, watts: 5}\nwires:\n  - S1:2 - H1:1 blue 20\n  - H1:2 - T1:X1 blue 21\n", "never energised"},
	} {
		text := strings.Replace(controlled, c.old, c.new, 1)
		if text == controlled {
			t.Fatalf("%q is not in the unit", c.old)
		}
		u, problems := circuit.Parse("t.yaml", []byte(text))
		found := false
		for _, p := range problems {
			found = found || strings.Contains(p.Found, c.says)
		}
		if u != nil || !found {
			t.Errorf("%s: %v", c.new, problems)
		}
	}
}

// Windings where the file gives no ohms: 40-100 ohm for a 40 VA 208 V primary (common
// practice, no source), and the same share of V²/VA for its 24 V secondary: 0.53-1.33.
func TestWindingDefaults(t *testing.T) {
	_, p := onePart(t, "{kind: control transformer, va: 40, primary: 208, secondary: 24, taps: {H3: 240 V}}")
	for i, c := range []struct{ lo, hi float64 }{{40, 100}, {40 * 32 / 208.0, 100 * 32 / 208.0}, {40 * 576.0 / 43264, 100 * 576.0 / 43264}} {
		got := p.Elems[i].Ohms
		if math.Abs(float64(got.Lo)-c.lo) > 1e-6 || math.Abs(float64(got.Hi)-c.hi) > 1e-6 {
			t.Errorf("winding %d: %v, want %.4g to %.4g", i, got, c.lo, c.hi)
		}
	}
}
