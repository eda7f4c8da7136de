package circuit_test

import (
	"math"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// controlled is a heater on 208 V whose contactor is worked from a 24 V transformer,
// the secondary grounded at X2.
const controlled = `
unit: Holding cabinet with a control transformer
nameplate: {volts: 208, phases: 1, neutral: no, hertz: 60, amps: 10}
sources:
  main:
    system: 120/208 wye
    legs: [L1, L2, PE]
    lands on: {L1: X1:L1, L2: X1:L2, PE: X1:PE}
    breaker: 2 x 15 A
    impedance: 0.1 ohm
    isolator: {kind: disconnect, name: disconnect on the wall, lockable: yes, leaves connected: [PE]}
hazards: [hot surfaces]
parts:
  X1: {kind: terminal block, points: [L1, L2, PE]}
  G1: {kind: ground stud}
  T1: {kind: control transformer, va: 40, primary: 208 V, secondary: 24 V, primary ohms: 60, secondary ohms: 0.8}
  S1: {kind: switch}
  K1: {kind: contactor, poles: 2, coil: 24 V, ohms: 12}
  E1: {kind: element, volts: 208, watts: 2000}
wires:
  - X1:L1 - T1:H1  black 1
  - X1:L2 - T1:H2  red 2
  - X1:L1 - K1:L1  black 3
  - X1:L2 - K1:L2  red 4
  - K1:T1 - E1:1   black 5
  - K1:T2 - E1:2   red 6
  - T1:X1 - S1:1   blue 7
  - S1:2 - K1:A1   blue 8
  - K1:A2 - T1:X2  grey 9
  - T1:X2 - G1     green 10
  - X1:PE - G1     green 11
`

func readText(t testing.TB, text string) (*circuit.Unit, *circuit.Network) {
	t.Helper()
	u, problems := circuit.Parse("t.yaml", []byte(text))
	if u == nil {
		t.Fatal(problems)
	}
	return u, circuit.NewNetwork(u)
}

func partOf(t testing.TB, u *circuit.Unit, tag string) circuit.PartID {
	t.Helper()
	for i, p := range u.Parts {
		if p.Tag == tag {
			return circuit.PartID(i)
		}
	}
	t.Fatalf("no part %s", tag)
	return circuit.None
}

func pointOf(t testing.TB, u *circuit.Unit, name string) circuit.Node {
	t.Helper()
	at := u.FindPoint(name)
	if len(at) == 0 {
		t.Fatalf("no point %s", name)
	}
	return at[0]
}

// Dead, a meter sees two windings that have nothing to do with each other.
func TestTransformerDead(t *testing.T) {
	u, n := readText(t, controlled)
	v := n.Dead(circuit.State{})
	for _, c := range []struct {
		from, to string
		want     float64
	}{
		{"T1:H1", "T1:H2", 60},
		{"T1:X1", "T1:X2", 0.8},
		{"T1:H1", "T1:X1", math.Inf(1)},
		{"T1:H2", "frame", math.Inf(1)},
		{"T1:X1", "frame", 0.82},
		{"X1:L1", "X1:L2", 60.04},
	} {
		got := float64(v.Ohms(pointOf(t, u, c.from), pointOf(t, u, c.to)))
		if math.IsInf(c.want, 1) != math.IsInf(got, 1) || math.Abs(got-c.want) > 0.1 {
			t.Errorf("%s to %s: %v Ω, want %v", c.from, c.to, got, c.want)
		}
	}
}

// Rated volts at rated load, by hand: 40 VA at 24 V is 1.667 A, 14.4 Ω; series 0.8 Ω
// and 60·(n2/n1)² on the other side; without load the secondary stands at 24 V times 1
// and both drops, 60/1081.6 + 0.8/14.4 = 11.1 %, less what the idle current drops.
func TestTransformerRegulation(t *testing.T) {
	text := strings.Replace(controlled, "kind: contactor, poles: 2, coil: 24 V, ohms: 12", "kind: contactor, poles: 2, coil: 24 V, ohms: 250", 1)
	text = strings.Replace(text, "  E1:", "  E2: {kind: element, ohms: 14.4}\n  E1:", 1) +
		"  - S1:2 - E2:1 blue 12\n  - E2:2 - T1:X2 blue 13\n"
	u, n := readText(t, text)
	idle, err := n.Live(circuit.State{}.SwitchOn(0), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	x1, x2 := pointOf(t, u, "T1:X1"), pointOf(t, u, "T1:X2")
	// The idle current, 0.27 of 0.192 A, drops at most 60 Ω × 0.052 A = 3.1 V of 208.
	if v := float64(idle.Volts(x1, x2)); v < 26.66*(1-3.2/208) || v > 26.67 {
		t.Errorf("without load %v V, want a little below 26.67", v)
	}
	if a := float64(idle.LegAmps(0, 0)); math.Abs(a/(0.27*40/208)-1) > 0.05 {
		t.Errorf("without load %v A, want about 0.052", a)
	}
	full, err := n.Live(circuit.State{}.SwitchOn(0).Move(u, partOf(t, u, "S1"), 1), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	// The supply drops 4 V over 0.4 Ω at 9.4 A: 204 V. 26.67 V × 204/208 behind
	// 0.8 + 60·(26.67/208)² = 1.786 Ω, into 14.4 Ω: 23.3 V, and 0.2 V for the idle current.
	if v := float64(full.Volts(x1, x2)); math.Abs(v-23.1) > 0.15 {
		t.Errorf("at full load %v V, want about 23.1", v)
	}
	if !full.In.Has(int(partOf(t, u, "K1"))) {
		t.Error("the contactor is not in")
	}
	// Turns balance: what enters the primary is the secondary current over the ratio,
	// and the idle current.
	tr := partOf(t, u, "T1")
	i1, i2 := float64(full.Amps(tr, 0)), float64(full.Amps(tr, 1))
	if ratio := i2 * 26.667 / 208; i1 < ratio || i1 > ratio+0.052 {
		t.Errorf("primary %v A, secondary %v A", i1, i2)
	}
	if e1 := float64(full.Amps(partOf(t, u, "E1"), 0)); math.Abs(e1-208/(21.632+0.5)) > 0.05 {
		t.Errorf("element %v A, want about 9.4", e1)
	}
}

// Faults by hand. The 24 V contactor of 0.2 A holds; CTL: at inrush the secondary stays
// above 85 % (NEMA ST 1 part 4, as restated in transformer selection guides).
func TestTransformerFaults(t *testing.T) {
	u, n := readText(t, controlled)
	tr, k1 := partOf(t, u, "T1"), partOf(t, u, "K1")
	on := circuit.State{}.SwitchOn(0).Move(u, partOf(t, u, "S1"), 1)
	at := func(m circuit.Mode, elem int, size, where float64) []circuit.Placed {
		return []circuit.Placed{{Fault: circuit.Fault{Mode: m, Part: tr, Elem: elem, Wire: circuit.None, End: circuit.None}, Ohms: quantity.Ohms(size), At: where}}
	}
	for _, c := range []struct {
		name     string
		faults   []circuit.Placed
		pulls    bool
		lo, hi   float64 // amperes in L1
		primary  float64 // dead, H1 to H2 with the wires on
		toGround float64 // dead, X1 to frame
	}{
		// 208 V on 21.632 + 0.5 Ω, and the 0.19 A of the coil over the ratio.
		{"sound", nil, true, 9.38, 9.5, 60, 0.82},
		{"primary open", at(circuit.OpenCircuit, 0, 0, 0), false, 0, 1e-6, math.Inf(1), 0.82},
		{"secondary open", at(circuit.OpenCircuit, 1, 0, 0), false, 0.04, 0.06, 60, math.Inf(1)},
		// 208 V through 0.6 Ω of supply, wires and leads.
		{"primary shorted", at(circuit.ShortCircuit, 0, 0.05, 0), false, 208 / 0.6, 208 / 0.4, 0.05, 0.82},
		// 60 Ω + 0.8·(208/26.67)² Ω = 108.7 Ω, with a third of it leakage: 114 Ω.
		{"secondary shorted", at(circuit.ShortCircuit, 1, 1e-6, 0), false, 1.7, 1.95, 60, 0.02},
		// At the end H1: L1 to earth through 0.05 Ω and the wiring; L1 sags, the coil drops.
		{"primary earthed at H1", at(circuit.Earthed, 0, 0.05, 0), false, 120 / 0.55, 120 / 0.3, 60, 0.82},
		// In mid-winding on two legs of a wye: 60 V at 90° to the volts from leg to leg,
		// behind two halves of 30 + 10j Ω whose ampere-turns cancel: 1.9 A of it in L1, at
		// 108° to the 9.39 A of the element: 8.98 A.
		{"primary earthed in the middle", at(circuit.Earthed, 0, 0.05, 0.5), true, 8.9, 9.1, 60, 0.82},
		// Half the turns gone, closed on themselves: 208 V on 30 + 3.3j Ω of the other half
		// and as much of the shorted one: 3.4 A besides the element. The flux and with
		// it the secondary stay about as they were.
		{"half the primary shorted", at(circuit.ShortedTurns, 0, 0.5, 0), true, 12.4, 12.9, 30, 0.82},
		// The grounded secondary, earthed again at X2: nothing changes.
		{"secondary earthed at X2", at(circuit.Earthed, 1, 0, 1), true, 9.38, 9.5, 60, 0.82},
		// Earthed at X1: shorted through the frame.
		{"secondary earthed at X1", at(circuit.Earthed, 1, 0, 0), false, 1.6, 1.95, 60, 0},
	} {
		l, err := n.Live(on, c.faults, nil)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		amps := float64(l.LegAmps(0, 0))
		if amps < c.lo || amps > c.hi || l.In.Has(int(k1)) != c.pulls {
			t.Errorf("%s: %.4g A in L1, want %.4g to %.4g; pulled in %v, want %v", c.name, amps, c.lo, c.hi, l.In.Has(int(k1)), c.pulls)
		}
		v, err := n.DeadUnder(circuit.State{}, c.faults, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range []struct {
			a, b string
			want float64
		}{{"T1:H1", "T1:H2", c.primary}, {"T1:X1", "frame", c.toGround}} {
			got := float64(v.Ohms(pointOf(t, u, r.a), pointOf(t, u, r.b)))
			if math.IsInf(r.want, 1) != math.IsInf(got, 1) || math.Abs(got-r.want) > 0.1 {
				t.Errorf("%s: %s to %s %v Ω, want %v", c.name, r.a, r.b, got, r.want)
			}
		}
	}
}
