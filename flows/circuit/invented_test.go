package circuit_test

import (
	"math"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/testdata/unitgen"
)

// inUse sets every switch, thermostat and timer to where it closes most contacts.
func inUse(u *circuit.Unit) circuit.State {
	s := circuit.State{}
	for i := range u.Sources {
		s = s.SwitchOn(i)
	}
	for p, part := range u.Parts {
		if !part.ByHand || part.Kind == circuit.KindContact {
			continue
		}
		best, most := part.Rest, -1
		for i := range part.Positions {
			n := 0
			for _, e := range part.Elems {
				if e.Role == circuit.Contact && e.Closed>>i&1 == 1 {
					n++
				}
			}
			if n > most {
				best, most = i, n
			}
		}
		s = s.Move(u, circuit.PartID(p), best)
	}
	return s
}

// Every seed gives a unit that Parse accepts, that is sound when energised, and whose
// readings are the same by one change of the solved circuit as by solving anew.
func TestInventedUnits(t *testing.T) {
	kinds, parts := map[circuit.Kind]int{}, map[int]int{}
	plugs, neutrals, contactors, worst := 0, 0, map[int]int{}, 0.0
	const seeds = 300
	for seed := range uint64(seeds) {
		text := unitgen.Text(seed)
		if text != unitgen.Text(seed) {
			t.Fatalf("seed %d gives two texts", seed)
		}
		u, problems := circuit.Parse("invented.yaml", []byte(text))
		if u == nil {
			t.Errorf("seed %d: %v\n%s", seed, problems, text)
			continue
		}
		if len(u.Parts) < 8 || len(u.Parts) > 40 {
			t.Errorf("seed %d: %d parts", seed, len(u.Parts))
		}
		parts[len(u.Parts)/10]++
		n := circuit.NewNetwork(u)
		if odd := circuit.Lint(n); len(odd) > 0 {
			t.Errorf("seed %d: %v", seed, odd)
		}
		l, err := n.Live(inUse(u), nil, nil)
		if err != nil {
			t.Errorf("seed %d: %v\n%s", seed, err, text)
			continue
		}
		worst = math.Max(worst, l.Multiple)
		if l.Multiple > 0.9 || l.Multiple < 0.01 {
			t.Errorf("seed %d: %.2f of the breaker", seed, l.Multiple)
		}
		k := 0
		for p, part := range u.Parts {
			kinds[part.Kind]++
			for _, el := range part.Elems {
				v := float64(l.Volts(circuit.Node(el.A), nodeB(el)))
				if el.Role == circuit.Resist && part.Volts > 0 && el.Turns == 0 && el.Name != "capacitor" && el.Name != "start winding" && v > 1.15*float64(part.Volts) {
					t.Errorf("seed %d: %s stands at %.0f V", seed, part.Tag, v)
				}
				if el.Coil && !l.In.Has(p) {
					t.Errorf("seed %d: %s is not pulled in (%.1f V)\n%s", seed, part.Tag, v, text)
				}
			}
			if part.Kind == circuit.KindContact {
				k++
			}
		}
		contactors[k]++
		if u.Sources[0].Isolator.Kind == circuit.Plug {
			plugs++
		}
		if u.Plate.Neutral {
			neutrals++
		}
		refactored(t, seed, n)
	}
	if plugs < seeds/5 || neutrals < seeds/4 || len(parts) < 4 || len(contactors) < 3 {
		t.Errorf("little variety: %d plugs, %d neutrals, parts by tens %v, contactors %v", plugs, neutrals, parts, contactors)
	}
	for _, k := range circuit.Kinds() {
		if kinds[k] == 0 && k != circuit.KindTrafo {
			t.Errorf("no %s in any unit", k)
		}
	}
	t.Logf("parts by tens %v, contactors %v, at most %.2f of a breaker", parts, contactors, worst)
}

func nodeB(e circuit.Elem) circuit.Node {
	if e.B == circuit.None {
		return circuit.Chassis
	}
	return circuit.Node(e.B)
}

// refactored compares Under with DeadUnder for every fault of a unit, from every part's
// first terminal to the frame.
func refactored(t *testing.T, seed uint64, n *circuit.Network) {
	t.Helper()
	u := n.Unit()
	s := circuit.State{}
	v := n.Dead(s)
	for _, f := range circuit.AllFaults(u) {
		at := circuit.Placed{Fault: f, Ohms: 0.5, At: 0.3}
		c, ok := n.Change(s, at)
		if !ok {
			continue
		}
		anew, err := n.DeadUnder(s, []circuit.Placed{at}, nil)
		if err != nil {
			t.Fatalf("seed %d: %s: %v", seed, f.Name(u), err)
		}
		hc := v.HalfOf(c)
		for _, part := range u.Parts {
			a := circuit.Node(part.Terms[0])
			got, ok := v.Under(v.Half(a, circuit.Chassis), c, hc)
			want := anew.Ohms(a, circuit.Chassis)
			if math.IsNaN(float64(want)) || want < 0 {
				t.Fatalf("seed %d: %s: %v Ω", seed, f.Name(u), want)
			}
			if !ok || math.IsInf(float64(got), 1) && math.IsInf(float64(want), 1) {
				continue
			}
			if math.Abs(float64(got-want)) > 1e-6*float64(want)+1e-9 || math.IsInf(float64(got), 1) != math.IsInf(float64(want), 1) {
				t.Errorf("seed %d: %s, %s to frame: %v by change, %v anew", seed, f.Name(u), part.Tag, got, want)
			}
		}
	}
}

// Wires that nobody numbered and those that somebody did: both occur.
func TestSomeWiresHaveNoNumber(t *testing.T) {
	text := unitgen.Text(7)
	if !strings.Contains(text, " ?\n") || !strings.Contains(text, " 1\n") && !strings.Contains(text, " 2\n") {
		t.Error(text)
	}
}
