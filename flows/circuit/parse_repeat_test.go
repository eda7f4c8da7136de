package circuit_test

import (
	"fmt"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
)

// decks is a heater of three decks, its top part and its decks in one file.
const decks = `unit: Three warm decks
nameplate: {volts: 208, phases: 1, neutral: no, hertz: 60, amps: 15}
sources:
  main:
    system: 120/208 wye
    legs: [L1, L2, PE]
    lands on: {L1: X1:L1, L2: X1:L2, PE: X1:PE}
    breaker: 2 x 20 A
    isolator: {kind: disconnect, name: disconnect on the wall, lockable: yes, leaves connected: [PE]}
hazards: [hot surfaces]
parts:
  X1: {kind: terminal block, points: [L1, L2, PE]}
wires:
  - E1:2 - E2:2  red 2
  - E2:2 - E3:2  red 3
  - E1:2 - X1:L2  red 4
repeat:
  deck: [1, 2, 3]
  name: [top, middle, bottom]
  covers:
    <name> deck: {off: 2 min, on: 3 min, hides: [S<deck>, E<deck>]}
  parts:
    S<deck>: {kind: switch, at: <name> deck, looks like: rocker marked <deck>}
    E<deck>: {kind: element, volts: 208, watts: 900}
  wires:
    - X1:L1 - S<deck>:1  black <deck>01
    - S<deck>:2 - E<deck>:1  black <deck>02
  good readings:
    - E<deck>:1 - E<deck>:2  47 ohm
  history: {E<deck>: {open: 2}}
`

// A repeat reads as if everything had been written out.
func TestRepeat(t *testing.T) {
	u, _ := readText(t, decks)
	var got []string
	for _, p := range u.Parts {
		cover := ""
		if p.Cover != circuit.None {
			cover = u.Covers[p.Cover].Name
		}
		got = append(got, fmt.Sprintf("%s|%s|%s|%s", p.Tag, p.At, p.Looks, cover))
	}
	want := "X1|||;S1|top deck|rocker marked 1|top deck;E1|||top deck;S2|middle deck|rocker marked 2|middle deck;E2|||middle deck;" +
		"S3|bottom deck|rocker marked 3|bottom deck;E3|||bottom deck"
	if s := strings.Join(got, ";"); s != want {
		t.Errorf("parts\n%s, want\n%s", s, want)
	}
	var wires []string
	for i := range u.Wires {
		wires = append(wires, u.WireName(circuit.WireID(i)))
	}
	if s := strings.Join(wires, " "); len(u.Wires) != 9 || !strings.Contains(s, "101") || !strings.Contains(s, "302") {
		t.Errorf("wires %s", s)
	}
	if len(u.Good) != 3 || len(u.History) != 3 || u.Parts[4].Elems[0].Ohms.Nominal != 47 {
		t.Errorf("%d good readings, %d history, E2 %v", len(u.Good), len(u.History), u.Parts[4].Elems[0].Ohms)
	}
	// One repeat, or a list of them.
	asList := strings.Replace(decks, "repeat:\n", "repeat:\n- \n", 1)
	if v, problems := circuit.Parse("t.yaml", []byte(asList)); v == nil || len(v.Parts) != 7 {
		t.Error(problems)
	}
	for _, none := range []string{"repeat: []\n", "repeat:\n"} {
		if v, problems := circuit.Parse("t.yaml", []byte(controlled+none)); v == nil {
			t.Error(none, problems)
		}
	}
}

// The same unit written out has the same circuit.
func TestRepeatIsTheSameAsWrittenOut(t *testing.T) {
	head, tail, _ := strings.Cut(decks, "repeat:\n")
	parts, wires := "", ""
	for _, line := range strings.Split(tail, "\n") {
		for i := 1; i <= 3; i++ {
			l := strings.NewReplacer("<deck>", fmt.Sprint(i), "<name>", "x").Replace(line)
			switch {
			case strings.HasPrefix(l, "    S"+fmt.Sprint(i)+": ") || strings.HasPrefix(l, "    E"+fmt.Sprint(i)+": "):
				parts += l[2:] + "\n"
			case strings.HasPrefix(l, "    - X1") || strings.HasPrefix(l, "    - S"):
				wires += l[2:] + "\n"
			}
		}
	}
	out, n := readText(t, strings.Replace(head, "wires:\n", parts+"wires:\n", 1)+wires)
	u, m := readText(t, decks)
	a, b := out.FindPoint("E2:1"), u.FindPoint("E2:1")
	c, d := out.FindPoint("X1:L2"), u.FindPoint("X1:L2")
	x, y := n.Dead(circuit.State{}).Ohms(a[0], c[0]), m.Dead(circuit.State{}).Ohms(b[0], d[0])
	if x < 40 || y < 40 || x/y < 48.0/47.5 || x/y > 48.3/46.9 { // 208²/900 = 48.07 and 47 as measured
		t.Errorf("%v Ω written out, %v Ω repeated", x, y)
	}
}

// Mistakes in a repeat stand at their template, and say which repetition they are of.
func TestRepeatProblems(t *testing.T) {
	place := func(text, at string) string {
		i := strings.Index(text, at)
		line := strings.Count(text[:i], "\n") + 1
		return fmt.Sprintf("%d:%d", line, i-strings.LastIndex(text[:i], "\n"))
	}
	for _, c := range []struct{ old, new, at, says, write string }{
		// In every repetition: one problem.
		{"volts: 208, watts: 900", "volts: 208, wats: 900", "wats", `element E2 has no key "wats" (deck 2)`, "watts"},
		{"watts: 900", "watts: none", "none", `(deck 1, deck 2, deck 3)`, ""},
		// In the tag behind a placeholder, column of the template.
		{"E<deck>:1  black <deck>02", "F<deck>:1  black <deck>02", "F<deck>:1  b", `no part "F1" (deck 1)`, ""},
		{"E<deck>:1  black <deck>02", "F<deck>:1  black <deck>02", "F<deck>:1  b", `no part "F3" (deck 3)`, ""},
		{"E<deck>:1  black <deck>02", "E<deck>:9  black <deck>02", "9  black", `no terminal "9" (deck 2)`, "E2:1"},
		{"black <deck>02", "blak <deck>02", "blak", `no colour "blak" (deck 1, deck 2, deck 3)`, "black"},
		// One value only.
		{"deck: [1, 2, 3]\n", "deck: [1, 2, 1]\n", "S<deck>: {", `"S1" is given twice in parts (deck 1)`, ""},
		// Against what the file has of its own.
		{"  X1: {", "  E2: {kind: ground stud}\n  X1: {", "E<deck>: {k", `"E2" is given twice in parts (deck 2)`, ""},
		{"wires:\n  - E1:2", "wires:\n  - X1:L1 - S2:1 black 201\n  - E1:2", "X1:L1 - S<deck>", "same wire as in line 14 (deck 2)", ""},
		// From the file's own wires into the repeat.
		{"- E2:2 - E3:2", "- E2:2 - E4:2", "E4:2", `no part "E4"`, ""},
		// The placeholder.
		{"E<deck>: {kind", "E1: {kind", "E1: {kind", `is the same every time`, "<deck>"},
		{"S<deck>:1  black <deck>01", "S1:1  black 101", "X1:L1 - S1", `is the same every time`, "<deck>"},
		{"at: <name> deck", "at: <row> deck", "<row>", `no placeholder <row>`, "<deck> or <name>"},
		{"name: [top, middle, bottom]", "name: [top, bottom]", "[top", "name has 2 values, deck has 3", "3"},
		{"name: [top, middle, bottom]", "name: [top, middle, bottom]\n  side: [a, b, c]", "side", `used nowhere`, "<side>"},
		{"  deck: [1, 2, 3]\n  name: [top, middle, bottom]\n", "", "covers", "what changes", ""},
		{"deck: [1, 2, 3]", "deck: []", "[]", "has no values", ""},
		{"deck: [1, 2, 3]", "deck: 3", "deck: 3", "not a list of values", ""},
		{"  history: {E", "  histori: {E", "histori", "not a list of values", "history"},
		{"repeat:\n", "repeat: three decks\nother:\n", "three", "not a set of keys", ""},
		// After every line is right: of the circuit as a whole.
		{"    - S<deck>:2 - E<deck>:1  black <deck>02\n", "", "S<deck>: {", "no wire lands on S3:2 (deck 3)", ""},
	} {
		text := strings.Replace(decks, c.old, c.new, 1)
		if text == decks {
			t.Fatalf("%q is not in the unit", c.old)
		}
		u, problems := circuit.Parse("t.yaml", []byte(text))
		found := false
		for _, p := range problems {
			found = found || strings.Contains(p.Found, c.says) && fmt.Sprintf("%d:%d", p.Line, p.Col) == place(text, c.at) && strings.Contains(p.Write, c.write)
		}
		if u != nil || !found {
			t.Errorf("%s: want %s %s\n%v", c.new, place(text, c.at), c.says, problems)
		}
	}
}
