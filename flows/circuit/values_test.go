package circuit_test

import (
	"math"
	"testing"

	"halfsplit/flows/circuit"
)

// TestPlateWarmerHealthyValues compares the solver with the table in
// testdata/units/README.md, worked out by hand from V²/P and Ohm's law: isolator open,
// neutral bonded at the panel, everything at rest. A joint is 0.01 Ω, a closed
// contact 0.05 Ω and the neutral's way to the panel 0.2 Ω, which the hand values leave
// out: hence 0.5 Ω.
func TestPlateWarmerHealthyValues(t *testing.T) {
	u := readPlateWarmer(t)
	n := circuit.NewNetwork(u)
	for _, c := range []struct {
		from, to string
		lifted   []string // wire number at part
		want     float64
	}{
		{"14", "frame", []string{"14 at K1"}, 10.0},                    // 20 ∥ 20: two lamps to neutral
		{"15", "frame", []string{"15 at K1", "14 at K1"}, math.Inf(1)}, // elements only
		{"16", "frame", []string{"16 at K1", "14 at K1"}, math.Inf(1)},
		{"14", "frame", []string{"14 at K1", "9 at X1"}, math.Inf(1)},
		{"K1:T2", "frame", nil, 10.0},
		{"K1:T1", "frame", nil, 35.75}, // three elements in parallel 25.75, then the lamps
		{"K1:T1", "K1:T2", nil, 25.75},
		{"E1:1", "E1:2", []string{"15 at K1"}, 66.56},  // 208²/650
		{"E2:1", "E2:2", []string{"18 at E2"}, 68.67},  // 208²/630
		{"E3:1", "E3:2", []string{"13 at E3"}, 108.16}, // 208²/400
		{"H1:1", "H1:2", nil, 10.0},
		{"S1:4", "frame", nil, 31.93}, // pilot 200 ∥ fan 38
		{"K1:A1", "K1:A2", nil, 700},
		{"X1:L1", "frame", nil, math.Inf(1)},
		{"X1:L2", "frame", nil, math.Inf(1)}, // the coil ends at the open switch
		{"X1:N", "frame", nil, 0},
	} {
		var s circuit.State
		for _, l := range c.lifted {
			s = s.Lift(findEnd(t, u, l))
		}
		got, err := n.Ohms(s, nil, u.FindPoint(c.from)[0], u.FindPoint(c.to)[0])
		if err != nil {
			t.Fatal(err)
		}
		open := math.IsInf(c.want, 1)
		if open && got < 1e8 || !open && math.Abs(float64(got)-c.want) > max(0.5, c.want*0.002) {
			t.Errorf("%s to %s, off %v: %.3f Ω, want %v", c.from, c.to, c.lifted, float64(got), c.want)
		}
	}
}

// findEnd finds "14 at K1" as an end of a wire.
func findEnd(t *testing.T, u *circuit.Unit, words string) circuit.EndID {
	t.Helper()
	w := u.WireOf(u.FindPoint(words)[0])
	if w == circuit.None {
		t.Fatalf("%q is not a wire", words)
	}
	for i, term := range u.Wires[w].Ends {
		tag := u.Parts[u.Terms[term].Part].Tag
		if words[len(words)-2:] == tag {
			return w.Ends()[i]
		}
	}
	t.Fatalf("%q is not an end", words)
	return 0
}
