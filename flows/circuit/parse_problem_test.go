package circuit_test

import (
	"fmt"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
)

// twelve has one mistake in each of twelve lines.
const twelve = `unit: Toaster with mistakes
nameplate: {volts: 208, phases: 1, neutral: maybe}
sources:
  main:
    system: 120/208 wye
    legs: [L1, L2, M, PE]
    lands on: {L1: X1:L1, L2: X1:L2, PE: X1:PE}
    isolator: {kind: disconnect, lockable: yes, leaves connected: [PE]}
hazards: []
covers:
  left panel: {off: 3, on: 3 min, hides: [X1]}
  back: {off: 3 min, on: 3 min, hides: [K9]}
parts:
  X1: {kind: terminal block, points: [L1, L2, PE]}
  K1: {kind: contacter, poles: 2, coil: 208 V}
  E1: {kind: element, volts: 208}
  E2: {kind: element, volts: 208, watt: 650}
wires:
  - X1:L1 - E1:3  black 14
  - X1:L2 - E1:2  blakc 15
  - X1:L1 -
`

func TestTwelveMistakesGiveTwelveProblems(t *testing.T) {
	want := []string{
		`t.yaml:2:45: "maybe" is neither yes nor no; write neutral: yes or neutral: no`,
		`t.yaml:6:20: there is no leg "M"; write one of: L1, L2, L3, N, PE`,
		`t.yaml:8:15: isolator does not give "name"; write name: two-pole disconnect on the wall, as the technician will find it`,
		`t.yaml:9:10: hazards is empty; write hazards: [none known], if you looked`,
		`t.yaml:11:21: off: "3" has no unit; write off: 3 min, or ? if not known`,
		`t.yaml:12:41: there is no part "K9"; write "K1"`,
		`t.yaml:15:14: there is no kind of part "contacter"; write "contactor"`,
		`t.yaml:16:3: the ohms of element E1 cannot be derived; write volts: and watts: from its plate, or ohms: measured on a good one`,
		`t.yaml:17:35: element E2 has no key "watt"; write "watts"`,
		`t.yaml:19:16: element E1 has no terminal "3"; write E1:1, E1:2`,
		`t.yaml:20:19: there is no colour "blakc"; write "black"`,
		`t.yaml:21:5: a wire to nowhere: the second end is missing; write K1:T1 - E1:1  red 14`,
	}
	u, problems := circuit.Parse("t.yaml", []byte(twelve))
	if u != nil {
		t.Error("a unit in spite of problems")
	}
	var got []string
	for _, p := range problems {
		got = append(got, p.String())
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %d problems:\n%s\nwant %d:\n%s", len(got), strings.Join(got, "\n"), len(want), strings.Join(want, "\n"))
	}
}

// sound is a small unit without a mistake, which the table below spoils line by line.
const sound = `unit: Toaster
nameplate: {volts: 208, phases: 1, neutral: yes, hertz: 60, amps: 9}
sources:
  main:
    system: 120/208 wye
    legs: [L1, L2, N, PE]
    lands on: {L1: X1:L1, L2: X1:L2, N: X1:N, PE: X1:PE}
    neutral bonded: at the panel
    breaker: 2 x 20 A
    isolator: {kind: disconnect, name: on the wall, lockable: yes, leaves connected: [N, PE]}
hazards: [hot surfaces]
covers:
  side: {off: 3 min, on: 3 min, hides: [X1, K1]}
parts:
  X1: {kind: terminal block, points: [L1, L2, N, PE]}
  G1: {kind: ground stud}
  S1: {kind: switch, positions: [off, on]}
  K1: {kind: contactor, poles: 2, coil: 208 V}
  E1: {kind: element, volts: 208, watts: 650}
  H1: {kind: lamp, volts: 120, watts: 60}
  M1: {kind: motor, type: shaded pole, volts: 120}
wires:
  - X1:L1 - S1:1   black 1
  - S1:2 - K1:A1   black 2
  - X1:L2 - K1:A2  red 3
  - X1:L1 - K1:L1  black 4
  - X1:L2 - K1:L2  red 5
  - K1:T1 - E1:1   black 6
  - K1:T2 - E1:2   red 7
  - K1:T1 - H1:1   black 8
  - H1:2 - X1:N    white 9
  - S1:2 - M1:1    blue ?
  - M1:2 - X1:N    white ?
  - X1:PE - G1     green ?
good readings:
  - K1:A1 - K1:A2  520 ohm
history: {E1: {earthed: 2}}
minutes: {lift: 2 min}
repeat: []
`

// spoilt are changes to one line of the sound unit, and the problem each must give:
// line:column, and words of what was found and what to write. A star after the name
// allows a second problem: a wire less is missing at both its ends.
var spoilt = []struct {
	name, old, new string
	at             string
	says, write    string
}{
	{"unknown top key", "hazards: [hot surfaces]", "hazard: [hot surfaces]\nhazards: [x]", "11:1", `no key "hazard"`, "hazards"},
	{"double top key", "hazards: [hot surfaces]", "hazards: [a]\nhazards: [b]", "12:1", "given twice", "once"},
	{"missing unit", "unit: Toaster\n", "\n", "2:1", `does not give "unit"`, "unit:"},
	{"tab", "  S1:", "\tS1:", "17:1", "a tab", "spaces"},
	{"anchor", "watts: 650", "watts: &x 650", "19:42", "anchor", "the value itself"},
	{"tag", "watts: 650", "watts: !!str 650", "19:42", "tag", "without it"},
	{"second document", "repeat: []\n", "repeat: []\n---\nunit: b\n", "41:1", "second document", "one unit"},
	{"merge key", "{kind: ground stud}", "{kind: ground stud, <<: {at: x}}", "16:27", "merge key", "keys"},
	{"yes or no", "neutral: yes", "neutral: true", "2:45", "neither yes nor no", "neutral: yes"},
	{"volts that are none", "volts: 208, phases", "volts: many, phases", "2:20", "not a number", "volts: 208"},
	{"two phases", "phases: 1", "phases: 2", "2:33", "cannot be 2", "phases: 1"},
	{"wrong unit", "off: 3 min", "off: 3 A", "13:15", "has the unit A", "3 min"},
	{"no unit", "coil: 208 V", "coil: 208", "18:41", "has no unit", "208 V"},
	{"below zero", "watts: 650", "watts: 0", "19:42", "not above zero", "watts"},
	{"unknown system", "120/208 wye", "120/208 star", "5:13", "is not known", "wye"},
	{"impossible system", "120/208 wye", "120/240 wye", "5:13", "do not belong", "split phase"},
	{"unknown leg", "[L1, L2, N, PE]\n    lands", "[L1, L2, N, E]\n    lands", "6:23", `no leg "E"`, "PE"},
	{"leg lands nowhere", "N: X1:N, PE", "PE", "7:15", "does not say where N", "N:"},
	{"leg lands on no terminal", "L2: X1:L2, N", "L2: X1:L4, N", "7:34", `no terminal "L4"`, "X1:L"},
	{"two legs on one terminal", "L2: X1:L2, N", "L2: X1:L1, N", "7:31", "same terminal", "another terminal"},
	{"no isolator", "    isolator: {kind: disconnect, name: on the wall, lockable: yes, leaves connected: [N, PE]}\n", "", "4:3", `does not give "isolator"`, "isolator:"},
	{"isolator of no kind", "kind: disconnect", "kind: rope", "10:22", `cannot be "rope"`, "disconnect"},
	{"isolator without lock", "lockable: yes, ", "", "10:15", `"lockable"`, "lockable: yes"},
	{"isolator opens earth", "connected: [N, PE]", "connected: [N]", "10:86", "does not open PE", "PE"},
	{"isolator leaves a leg", "connected: [N, PE]", "connected: [L2, N, PE]", "10:86", "leaves L2 live", "every live leg"},
	{"plug that leaves", "kind: disconnect", "kind: plug", "10:80", "plug leaves nothing", "[]"},
	{"no bond stated", "    neutral bonded: at the panel\n", "", "4:3", `"neutral bonded"`, "at the panel"},
	{"odd breaker", "2 x 20 A", "20 A", "9:14", "not poles x amps", "2 x 20 A"},
	{"breaker with too few poles", "2 x 20 A", "1 x 20 A", "9:14", "1 poles for 2 live legs", "2 x 20 A"},
	{"cover of nothing", "hides: [X1, K1]", "hides: [X1, K2]", "13:45", `no part "K2"`, "K1"},
	{"cover twice", "hides: [X1, K1]", "hides: [X1, X1]", "13:45", "hidden twice", "once"},
	{"part without kind", "G1: {kind: ground stud}", "G1: {at: floor}", "16:3", "has no kind", "kind:"},
	{"part twice", "  G1: {kind: ground stud}", "  G1: {kind: ground stud}\n  G1: {kind: ground stud}", "17:3", "given twice", "another name"},
	{"key of another kind", "watts: 60}", "watts: 60, poles: 2}", "20:43", `no key "poles"`, "volts"},
	{"no watts", "volts: 208, watts: 650", "volts: 208", "19:3", "cannot be derived", "watts"},
	{"no position", "positions: [off, on]", "positions: [off, on], rest: up", "17:50", `no position "up"`, "off"},
	{"contacts not said", "positions: [off, on]", "positions: [off, low, high]", "17:3", "which contact", "contacts:"},
	{"contact in no words", "positions: [off, on]", "contacts: {1-2: sometimes}", "17:38", "cannot be", "closed at rest"},
	{"lamp of no type", "kind: lamp,", "kind: lamp, type: gas,", "20:26", `cannot be "gas"`, "filament"},
	{"motor without type", "type: shaded pole, ", "", "21:3", `"type"`, "psc"},
	{"range that falls", "volts: 208, watts: 650", "ohms: 70-60", "19:29", "does not rise", "60-72"},
	{"no hyphen", "X1:L1 - S1:1   black 1", "X1:L1 S1:1   black 1", "23:11", "no hyphen", "K1:T1 - E1:1"},
	{"wire to nowhere", "X1:L1 - S1:1   black 1", "X1:L1 -", "23:5", "to nowhere", "K1:T1 - E1:1"},
	{"wire to an unknown part", "S1:2 - K1:A1", "S1:2 - K3:A1", "24:12", `no part "K3"`, "K1"},
	{"wire to an unknown terminal", "S1:2 - K1:A1", "S1:2 - K1:A3", "24:15", `no terminal "A3"`, "K1:A"},
	{"end without terminal", "S1:2 - K1:A1", "S1:2 - K1", "24:12", "without the terminal", "K1:A1"},
	{"wire without colour", "K1:A1   black 2", "K1:A1", "24:5", "without colour", "? ?"},
	{"wire with half", "K1:A1   black 2", "K1:A1   black", "24:20", "only", "colour, then number"},
	{"number first", "K1:A1   black 2", "K1:A1   2 black", "24:20", "number of a wire before", "black 2"},
	{"misspelt colour", "K1:A1   black 2", "K1:A1   blck 2", "24:20", `no colour "blck"`, "black"},
	{"wire to itself", "S1:2 - K1:A1", "S1:2 - S1:2", "24:12", "to itself", "other end"},
	{"wire twice", "  - S1:2 - K1:A1   black 2\n", "  - S1:2 - K1:A1   black 2\n  - K1:A1 - S1:2   black 2\n", "25:5", "same wire as in line 24", "once"},
	{"too many words", "K1:A1   black 2", "K1:A1   black 2 old", "24:28", "after the number", "white/red"},
	{"reading in volts", "520 ohm", "520 V", "36:20", "not ohm", "520 ohm"},
	{"reading of nothing", "K1:A2  520", "K1:A7  520", "36:16", `no terminal "A7"`, "A2"},
	{"history of no part", "{E1: {earthed: 2}}", "{E7: {earthed: 2}}", "37:11", `no part "E7"`, "E1"},
	{"history of no mode", "{earthed: 2}", "{grounded: 2}", "37:16", "cannot fail as", "earthed"},
	{"history without count", "{earthed: 2}", "{earthed: often}", "37:25", "count cannot be", "2"},
	{"unknown act", "lift: 2 min", "lifting: 2 min", "38:11", `no key "lifting"`, "lift"},
	{"repeat", "repeat: []", "repeat: {deck: [1, 2]}", "39:9", "nothing to be repeated", "parts"},
	{"plate without neutral", "neutral: yes", "neutral: no", "2:1", "nameplate has none", "neutral: yes"},
	{"plate of other volts", "volts: 208, phases", "volts: 480, phases", "2:1", "no source gives the 480 V", "system"},
	{"three phases", "phases: 1", "phases: 3", "2:1", "three phases", "L3"},
	{"legs joined", "  - S1:2 - K1:A1   black 2\n", "  - S1:2 - K1:A1   black 2\n  - K1:L1 - K1:L2 red ?\n", "28:5", "joins L1 and L2", "really runs"},
	{"neutral joined to frame", "H1:2 - X1:N    white 9", "H1:2 - X1:N    white 9\n  - X1:N - G1  white ?", "32:5", "joins N and PE", "really runs"},
	{"frame without earth", "  - X1:PE - G1     green ?\n", "", "7:47", "no wire leads from there", "ground stud"},
	{"part without wires", "  K1: {kind", "  E2: {kind: element, volts: 208, watts: 100}\n  K1: {kind", "18:3", "no wire lands on element E2", "partial"},
	{"coil without wire", "  - X1:L2 - K1:A2  red 3\n", "", "18:3", "coil of K1", "A1 and A2"},
	{"contactor unused", "  - X1:L1 - K1:L1  black 4\n", "", "18:3", "K1:L1", "wire"},
	{"load at one end*", "  - K1:T2 - E1:2   red 7\n", "", "19:3", "no wire lands on E1:2", "wire"},
	{"load across one leg*", "K1:T2 - E1:2   red 7", "K1:T1 - E1:2   red 7", "19:3", "L1 only", "really run"},
	{"lamp leg to leg", "H1:2 - X1:N ", "H1:2 - K1:T2 ", "20:3", "rated 120 V but wired between", "real volts"},
}

func TestEachMistakeIsFoundWhereItIs(t *testing.T) {
	if _, problems := circuit.Parse("t.yaml", []byte(sound)); len(problems) > 0 {
		t.Fatalf("the sound unit has problems: %v", problems)
	}
	kinds := map[string]bool{}
	for _, c := range spoilt {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(sound, c.old, c.new, 1)
			if text == sound {
				t.Fatalf("the sound unit does not hold %q", c.old)
			}
			u, problems := circuit.Parse("t.yaml", []byte(text))
			if u != nil {
				t.Error("a unit in spite of problems")
			}
			found := false
			for _, p := range problems {
				kinds[p.Found] = true
				if fmt.Sprintf("%d:%d", p.Line, p.Col) == c.at && strings.Contains(p.Found, c.says) && strings.Contains(p.Write, c.write) {
					found = true
				}
			}
			if most := 1 + strings.Count(c.name, "*"); !found || len(problems) > most {
				t.Errorf("want one problem at %s with %q and %q, got:", c.at, c.says, c.write)
				for _, p := range problems {
					t.Log(p)
				}
			}
		})
	}
}
