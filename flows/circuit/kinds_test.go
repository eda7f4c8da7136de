package circuit_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
)

// onePart reads a partial unit with the given part X and returns it.
func onePart(t *testing.T, part string) (*circuit.Unit, circuit.Part) {
	t.Helper()
	text := strings.Replace(sound, "parts:\n", "parts:\n  X: "+part+"\n", 1) + "partial: yes\n"
	text = strings.Replace(text, "hazards: [hot surfaces]", "hazards: [capacitor in the fan]", 1)
	u, problems := circuit.Parse("t.yaml", []byte(text))
	if u == nil {
		t.Fatal(problems)
	}
	return u, u.Parts[0]
}

// Resistances of sound parts. Sources: elements from V²/P (the 240 V 5500 W one is
// published as giving 4131 W on 208 V by a maker of water heaters, which is 10.473 ohm;
// 10 kW at 120 V is 1.44 ohm in Kuphaldt, Lessons in Electric Circuits, vol. II ch. 10);
// all other ranges are common practice, no source.
func TestSoundResistances(t *testing.T) {
	for _, c := range []struct {
		part            string
		elem            int
		nominal, lo, hi float64
	}{
		{"{kind: element, volts: 240, watts: 5500}", 0, 10.473, 9.949, 11.625},
		{"{kind: element, volts: 120 V, watts: 10 kW}", 0, 1.44, 1.368, 1.598},
		{"{kind: element, ohms: 66}", 0, 66, 59.4, 72.6},
		{"{kind: element, ohms: 60-72 ohm}", 0, 66, 60, 72},
		{"{kind: element, ohms: 8-120}", 0, math.Sqrt(960), 8, 120},
		{"{kind: element, ohms: 1-1.2 kohm}", 0, 1100, 1000, 1200},
		{"{kind: lamp, volts: 120, watts: 60}", 0, 20, 13, 27},
		{"{kind: contactor, poles: 2, coil: 24 V}", 0, math.Sqrt(120), 6, 20},
		{"{kind: contactor, poles: 2, coil: 120 V}", 0, math.Sqrt(32000), 80, 400},
		{"{kind: contactor, poles: 2, coil: 208 V}", 0, math.Sqrt(450000), 300, 1500},
		{"{kind: contactor, poles: 2, coil: 240 V}", 0, math.Sqrt(450000), 300, 1500},
		{"{kind: contactor, poles: 2, coil: 208 V}", 1, 0.05, 0.01, 0.2},
		{"{kind: relay, coil: 24 V}", 0, math.Sqrt(17500), 70, 250},
		{"{kind: relay, coil: 120 V}", 0, 3000, 1500, 4500},
		{"{kind: motor, type: shaded pole, volts: 120}", 0, math.Sqrt(1200), 15, 80},
		{"{kind: motor, type: psc, volts: 120, run ohms: 10}", 1, 40, 27, 55},
		{"{kind: water valve, volts: 120}", 0, 350, 200, 500},
		{"{kind: water valve, volts: 24 V}", 0, 14, 8, 20},
		{"{kind: solenoid, volts: 120}", 0, math.Sqrt(36000), 60, 600},
		{"{kind: buzzer, volts: 120}", 0, 1000, 400, 2500},
		{"{kind: timer, motor: 120 V}", 1, 3000, 1500, 6000},
		{"{kind: lamp, type: led, volts: 120}", 0, 300e6, 100e6, 900e6},
		{"{kind: plug and cord, pins: [L1, N, PE]}", 2, 0.03, 0.01, 0.1},
	} {
		_, p := onePart(t, c.part)
		got := p.Elems[c.elem].Ohms
		for i, pair := range [][2]float64{{float64(got.Nominal), c.nominal}, {float64(got.Lo), c.lo}, {float64(got.Hi), c.hi}} {
			if math.Abs(pair[0]/pair[1]-1) > 1e-3 {
				t.Errorf("%s: value %d is %.4g, want %.4g", c.part, i, pair[0], pair[1])
			}
		}
	}
}

// Terminals and contacts of each kind. Marks of relays follow EN 50005, from memory.
func TestTerminalsAndContacts(t *testing.T) {
	for _, c := range []struct{ part, terms, contacts string }{
		{"{kind: contactor, poles: 3, coil: 120 V, contacts: {13-14: open at rest, 21-22: closed at rest}}",
			"L1 L2 L3 T1 T2 T3 A1 A2 13 14 21 22", "L1-T1:.x L2-T2:.x L3-T3:.x 13-14:.x 21-22:x."},
		{"{kind: relay, coil: 24 V, poles: 2}", "A1 A2 11 12 14 21 22 24", "11-12:x. 11-14:.x 21-22:x. 21-24:.x"},
		{"{kind: switch, poles: 2}", "1 2 3 4", "1-2:.x 3-4:.x"},
		{"{kind: switch, positions: [off, low, high], contacts: {C-1: [low, high], C-2: closed when high}}", "C 1 2", "C-1:.xx C-2:..x"},
		{"{kind: switch, positions: [on, off], rest: off}", "1 2", "1-2:x."},
		{"{kind: thermostat}", "1 2", "1-2:x."},
		{"{kind: thermostat, contact: open when cold}", "1 2", "1-2:.x"},
		{"{kind: high limit, reset: auto, poles: 2}", "1 2 3 4", "1-2:x. 3-4:x."},
		{"{kind: door switch}", "1 2", "1-2:x."},
		{"{kind: door switch, contacts: {C-NO: closed when shut, C-NC: closed when open}}", "C NO NC", "C-NO:x. C-NC:.x"},
		{"{kind: fuse, amps: 10}", "1 2", "1-2:x."},
		{"{kind: terminal block, points: [1, 2, 014, 1E2]}", "1 2 014 1E2", ""},
		{"{kind: motor, type: psc, volts: 230}", "C R S", ""},
		{"{kind: timer}", "1 2", "1-2:.x"},
		{"{kind: timer, contacts: {1-2: closed when running, 1-3: closed when run out}, motor: 120 V}", "1 2 3 M1 M2", "1-2:.x 1-3:x."},
		{"{kind: float switch}", "1 2", "1-2:x."},
		{"{kind: float switch, contact: closed when full}", "1 2", "1-2:.x"},
		{"{kind: plug and cord, pins: [L1, L2, PE]}", "L1 L2 PE 1 2 3", ""},
		{"{kind: lamp, type: neon, volts: 120}", "1 2", ""},
		{"{kind: control transformer, va: 40, primary: 208, secondary: 24}", "H1 H2 X1 X2", ""},
	} {
		u, p := onePart(t, c.part)
		var terms, contacts []string
		for _, term := range p.Terms {
			terms = append(terms, u.Terms[term].Name)
		}
		for _, e := range p.Elems {
			if e.Role != circuit.Contact {
				continue
			}
			s := fmt.Sprintf("%s-%s:", u.Terms[e.A].Name, u.Terms[e.B].Name)
			for i := range p.Positions {
				s += map[bool]string{true: "x", false: "."}[e.Closed>>i&1 == 1]
			}
			contacts = append(contacts, s)
		}
		if got := strings.Join(terms, " "); got != c.terms {
			t.Errorf("%s: terminals %s, want %s", c.part, got, c.terms)
		}
		if got := strings.Join(contacts, " "); got != c.contacts {
			t.Errorf("%s: contacts %s, want %s", c.part, got, c.contacts)
		}
	}
}

// Names are kept as they are written, never as numbers.
func TestNamesStayText(t *testing.T) {
	text := strings.Replace(sound, "black 1\n", "black 014\n", 1)
	text = strings.Replace(text, "black 2\n", "black 1E2\n", 1)
	u, problems := circuit.Parse("t.yaml", []byte(text))
	if u == nil {
		t.Fatal(problems)
	}
	if u.Wires[0].Number != "014" || u.Wires[1].Number != "1E2" {
		t.Errorf("wires %q and %q", u.Wires[0].Number, u.Wires[1].Number)
	}
}

// What the text as a whole may not be.
func TestUnreadableText(t *testing.T) {
	for _, c := range []struct{ text, at, says string }{
		{"", "1:1", "empty"},
		{"# nothing\n", "1:1", "empty"},
		{"unit: a\nab: \xff\n", "2:5", "UTF-8"},
		{"- a\n- b\n", "1:1", "no keys"},
		{"unit: a\nparts: {K1: {kind: fuse\n", "2", "not readable"},
		{"unit: a\nnameplate: *x\n", "2:12", "alias"},
	} {
		u, problems := circuit.Parse("t.yaml", []byte(c.text))
		found := false
		for _, p := range problems {
			found = found || strings.HasPrefix(fmt.Sprintf("%d:%d", p.Line, p.Col), c.at) && strings.Contains(p.Found, c.says)
		}
		if u != nil || !found {
			t.Errorf("%q: %v", c.text, problems)
		}
	}
}

// Earth wires, and what is marked so, are never lifted.
func TestFixedWires(t *testing.T) {
	u := readPlateWarmer(t)
	for i, w := range u.Wires {
		if want := w.Colour == "green"; w.Fixed != want {
			t.Errorf("wire %s: fixed %v", u.WireName(circuit.WireID(i)), w.Fixed)
		}
	}
}

// A measured value stands in place of a derived one.
func TestGoodReadingOverrides(t *testing.T) {
	u := readPlateWarmer(t)
	fan := u.Parts[13]
	if got := fan.Elems[0].Ohms; fan.Tag != "M1" || got.Nominal != 38 || math.Abs(float64(got.Hi)-41.8) > 1e-9 {
		t.Errorf("%s: %v, want 38 ±10 %%", fan.Tag, got)
	}
}

// A motor with a capacitor needs it among the hazards.
func TestCapacitorIsAHazard(t *testing.T) {
	text := strings.Replace(sound, "type: shaded pole, volts: 120", "type: psc, volts: 120", 1)
	text = strings.Replace(text, "S1:2 - M1:1 ", "S1:2 - M1:R ", 1)
	text = strings.Replace(text, "M1:2 - X1:N ", "M1:C - X1:N ", 1)
	u, problems := circuit.Parse("t.yaml", []byte(text))
	if u != nil || len(problems) != 1 || problems[0].Line != 11 || !strings.Contains(problems[0].Write, "capacitor") {
		t.Errorf("%v", problems)
	}
	text = strings.Replace(text, "[hot surfaces]", "[capacitor of the fan]", 1)
	if u, problems = circuit.Parse("t.yaml", []byte(text)); u == nil {
		t.Error(problems)
	}
}

// Three 120 V elements in a star have their volts without a neutral; a lamp to nowhere
// does not.
func TestStarNeedsNoNeutral(t *testing.T) {
	star := strings.Replace(controlled, "legs: [L1, L2, PE]", "legs: [L1, L2, L3, PE]", 1)
	star = strings.Replace(star, "L2: X1:L2,", "L2: X1:L2, L3: X1:L3,", 1)
	star = strings.Replace(star, "points: [L1, L2, PE]", "points: [L1, L2, L3, PE]", 1)
	star = strings.Replace(star, "phases: 1", "phases: 3", 1)
	star = strings.Replace(star, "2 x 15 A", "3 x 15 A", 1)
	star = strings.Replace(star, "wires:\n", `  E2: {kind: element, volts: 120, watts: 500}
  E3: {kind: element, volts: 120, watts: 500}
  E4: {kind: element, volts: 120, watts: 500}
wires:
  - X1:L1 - E2:1 black 21
  - X1:L2 - E3:1 red 22
  - X1:L3 - E4:1 blue 23
  - E2:2 - E3:2 brown 24
  - E3:2 - E4:2 brown 25
`, 1)
	u, n := readText(t, star)
	l, err := n.Live(circuit.State{}.SwitchOn(0), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	// 28.8 ohm each, 120 V to the star point.
	if a := float64(l.Amps(partOf(t, u, "E3"), 0)); math.Abs(a-120/28.8) > 0.1 {
		t.Errorf("%v A, want about 4.17", a)
	}
	alone := strings.Replace(star, "  - E3:2 - E4:2 brown 25\n", "  - X1:L3 - E4:2 brown 25\n", 1)
	alone = strings.Replace(alone, "  - X1:L3 - E4:1 blue 23\n", "  - X1:L1 - E4:1 blue 23\n", 1)
	if u, problems := circuit.Parse("t.yaml", []byte(alone)); u != nil {
		t.Error("a 120 V element between two legs is not found")
	} else if !strings.Contains(problems[0].Found, "E") {
		t.Error(problems)
	}
}
