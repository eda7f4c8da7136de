package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"halfsplit/flows/quantity"
)

// coupled writes an energised unit with one transformer as a netlist for ngspice, from
// the unit and not from Network: the transformer as perfectly coupled inductors, each
// behind its copper and leakage, with the iron as a resistor on a winding of one volt.
// The faults are those of windings.
func coupled(u *Unit, in Bits, s State, faults []Placed) string {
	const w = 2 * math.Pi * 60
	var d []string
	count := 0
	put := func(kind, a, b string, size float64) {
		count++
		d = append(d, fmt.Sprintf("%s%d %s %s %.17g", kind, count, a, b, size))
	}
	series := func(a, b string, z complex128) {
		if imag(z) == 0 {
			put("R", a, b, real(z))
			return
		}
		mid := fmt.Sprintf("m%d", count)
		put("R", a, mid, real(z))
		put("L", mid, b, imag(z)/w)
	}
	term := func(t TermID) string {
		if t == None {
			return "0"
		}
		return fmt.Sprintf("t%d", t)
	}
	var core []string
	for p, part := range u.Parts {
		va := float64(part.Watts)
		unit := 1 / (0.25 * va * math.Cbrt(40/va) * w) // henry per square volt
		for e, el := range part.Elems {
			if el.Turns == 0 {
				continue
			}
			// wind adds a piece of the winding and couples it with what is there.
			wind := func(a, b string, share float64) {
				mid := fmt.Sprintf("m%d", count)
				turns := share * float64(el.Turns)
				put("L", mid, b, turns*turns*unit)
				core = append(core, fmt.Sprintf("L%d", count))
				z := el.Lively
				series(a, mid, complex(share*real(z), share*imag(z)))
			}
			a, b, at := term(el.A), term(el.B), 0.0
			open, whole := false, true
			for _, f := range faults {
				if f.Part != PartID(p) || f.Elem != e {
					continue
				}
				switch f.Mode {
				case OpenCircuit:
					open = true
				case ShortCircuit:
					put("R", a, b, float64(f.Ohms))
				case ShortedTurns: // the copper by turns, the leakage by their square
					share := float64(f.Ohms)
					for i, k := range []float64{share, 1 - share} {
						x, y := a, b
						if i == 1 {
							x, y = fmt.Sprintf("s%d", p), fmt.Sprintf("s%d", p)
							put("R", x, "0", 1e3) // it must not float
						}
						mid := fmt.Sprintf("m%d", count)
						put("L", mid, y, k*k*float64(el.Turns)*float64(el.Turns)*unit)
						core = append(core, fmt.Sprintf("L%d", count))
						series(x, mid, complex(k*real(el.Lively), k*k*imag(el.Lively)))
					}
					whole = false
				case Earthed:
					tapped := fmt.Sprintf("q%d_%d", p, e)
					wind(a, tapped, f.At)
					put("R", tapped, "0", float64(f.Ohms))
					a, at = tapped, f.At
				}
			}
			if open {
				put("R", b, "0", 1e12)
			} else if whole {
				wind(a, b, 1-at)
			}
		}
		if part.Kind == KindControl {
			put("L", "core", "0", unit)
			core = append(core, fmt.Sprintf("L%d", count))
			put("R", "core", "0", 1/(0.1*va*math.Cbrt(40/va)))
		}
		for _, el := range part.Elems {
			position := s.Position(u, PartID(p))
			if in.Has(p) {
				position = 1
			}
			switch {
			case el.Turns != 0 || !closed(&el, position):
			case el.Lively != 0:
				series(term(el.A), term(el.B), el.Lively)
			default:
				put("R", term(el.A), term(el.B), float64(el.Ohms.Nominal))
			}
		}
	}
	for i, a := range core {
		for j, b := range core[:i] {
			d = append(d, fmt.Sprintf("K%d_%d %s %s 1", i, j, a, b))
		}
	}
	for i, wire := range u.Wires {
		for _, t := range wire.Ends {
			put("R", fmt.Sprintf("w%d", i), term(t), 0.01)
		}
	}
	for t := range u.Terms {
		put("R", term(TermID(t)), "0", 1e12)
	}
	src := u.Sources[0]
	for i, leg := range src.Legs {
		var land TermID
		for _, f := range src.Feeds {
			if f.Leg == leg {
				land = f.Term
			}
		}
		switch leg {
		case "N":
			put("R", "star", term(land), 0.1)
		case "PE":
			put("R", "bar", term(land), 0.1)
			put("R", "bar", "star", 0.01)
		default:
			d = append(d, fmt.Sprintf("V%d e%d star ac %v %v", i, i, float64(src.LegToNeutral), src.AngleDeg[i]))
			put("R", fmt.Sprintf("e%d", i), fmt.Sprintf("p%d", i), float64(src.Impedance))
			put("R", fmt.Sprintf("p%d", i), term(land), 0.1)
		}
	}
	d = append(d, ".control", "set numdgt=14", "ac lin 1 60 60")
	for t := range u.Terms {
		d = append(d, fmt.Sprintf("print vm(t%d)", t))
	}
	d = append(d, "print mag(v0#branch)", "print mag(v1#branch)", "quit 0", ".endc", ".end")
	return "transformer\n" + strings.Join(d, "\n") + "\n"
}

// transformerUnit has a control transformer with a tap on the primary, fed through it;
// the secondary is grounded or floats.
func transformerUnit(t *testing.T, grounded bool) *Unit {
	t.Helper()
	text := `
unit: Transformer on its tap
nameplate: {volts: 240, phases: 1, neutral: no, hertz: 60, amps: 10}
sources:
  main:
    system: 120/240 split phase
    legs: [L1, L2, PE]
    lands on: {L1: X1:L1, L2: X1:L2, PE: X1:PE}
    breaker: 2 x 15 A
    isolator: {kind: disconnect, name: disconnect on the wall, lockable: yes, leaves connected: [PE]}
hazards: [hot surfaces]
parts:
  X1: {kind: terminal block, points: [L1, L2, PE]}
  G1: {kind: ground stud}
  T1: {kind: control transformer, va: 50, primary: 208 V, taps: {H3: 240 V}, secondary: 24 V}
  S1: {kind: switch}
  K1: {kind: contactor, poles: 2, coil: 24 V}
  E1: {kind: element, volts: 240, watts: 1500}
wires:
  - X1:L1 - T1:H1  black 1
  - X1:L2 - T1:H3  red 2
  - X1:L1 - K1:L1  black 3
  - X1:L2 - K1:L2  red 4
  - K1:T1 - E1:1   black 5
  - K1:T2 - E1:2   red 6
  - T1:X1 - S1:1   blue 7
  - S1:2 - K1:A1   blue 8
  - K1:A2 - T1:X2  grey 9
  - X1:PE - G1     green 11
`
	if grounded {
		text += "  - T1:X2 - G1 green 10\n"
	}
	u, problems := Parse("t.yaml", []byte(text))
	if u == nil {
		t.Fatal(problems)
	}
	return u
}

// Energised transformers against ngspice (.ac at 60 Hz), sound and with faults in their
// windings, secondary grounded and floating. Voltages to the frame of a floating
// secondary hang on the leaks of both sides and are left out.
func TestTransformerAgainstNgspice(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 13))
	worst := 0.0
	for _, grounded := range []bool{true, false} {
		u := transformerUnit(t, grounded)
		n := NewNetwork(u)
		var tr PartID
		for p, part := range u.Parts {
			if part.Kind == KindControl {
				tr = PartID(p)
			}
		}
		at := func(m Mode, elem int, size, where float64) Placed {
			return Placed{Fault: Fault{Mode: m, Part: tr, Elem: elem, Wire: None, End: None}, Ohms: quantity.Ohms(size), At: where}
		}
		cases := [][]Placed{nil}
		for elem := range u.Parts[tr].Elems {
			cases = append(cases,
				[]Placed{at(OpenCircuit, elem, 0, 0)},
				[]Placed{at(ShortCircuit, elem, 0.05+r.Float64(), 0)},
				[]Placed{at(ShortedTurns, elem, 0.2+0.6*r.Float64(), 0)},
				[]Placed{at(Earthed, elem, 0.05+5*r.Float64(), 0.1+0.8*r.Float64())})
		}
		cases = append(cases, []Placed{at(Earthed, 0, 0.3, 0.25), at(Earthed, 2, 0.4, 0.6)})
		for i, faults := range cases {
			for _, on := range []int{0, 1} {
				s := State{}.SwitchOn(0).Move(u, 3, on)
				l, err := n.Live(s, faults, nil)
				if err != nil {
					t.Fatal(err)
				}
				got := ngspice(t, coupled(u, l.In, s, faults))
				check := func(name string, want float64) {
					t.Helper()
					x, ok := got[name]
					// Perfect coupling costs ngspice digits: some 1e-6 of the 120 V of a leg.
					off := math.Abs(x-want) / (want + 100)
					if strings.HasPrefix(name, "mag") {
						off = math.Abs(x-want) / (want + 1e-2)
					}
					worst = math.Max(worst, off)
					if !ok || off > 1e-5 {
						t.Errorf("grounded %v, case %d, switch %d: %s is %v, ngspice %v", grounded, i, on, name, want, x)
					}
				}
				for k, term := range u.Terms {
					loose := !grounded && (u.Parts[term.Part].Tag == "S1" || term.Name[0] == 'A' || term.Name == "X1" || term.Name == "X2")
					if !loose && float64(l.Volts(Node(k), Chassis)) > 0.1 {
						check(fmt.Sprintf("vm(t%d)", k), float64(l.Volts(Node(k), Chassis)))
					}
				}
				check("mag(v0#branch)", float64(l.LegAmps(0, 0)))
				check("mag(v1#branch)", float64(l.LegAmps(0, 1)))
			}
		}
	}
	t.Logf("worst relative difference %.1e", worst)
}
