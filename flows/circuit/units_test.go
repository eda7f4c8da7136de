package circuit_test

import (
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/testdata/units"
)

// handTables reads the tables of a Markdown page, each by its header.
func handTables(t *testing.T, page string) map[string][][]string {
	t.Helper()
	text, err := os.ReadFile("../../testdata/units/" + page)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][][]string{}
	head := ""
	for line := range strings.SplitSeq(string(text), "\n") {
		if !strings.HasPrefix(line, "|") {
			head = ""
			continue
		}
		var cells []string
		for _, c := range strings.Split(strings.Trim(line, "|"), "|") {
			cells = append(cells, strings.TrimSpace(c))
		}
		switch {
		case head == "":
			head = strings.Join(cells, " ")
		case strings.Trim(cells[0], "-") != "" || len(cells[0]) == 0:
			out[head] = append(out[head], cells)
		}
	}
	return out
}

// setAs moves parts as said: "S1 on, TH1 hot".
func setAs(t *testing.T, u *circuit.Unit, s circuit.State, words string) circuit.State {
	t.Helper()
	for w := range strings.SplitSeq(words, ", ") {
		if w == "" {
			continue
		}
		tag, pos, _ := strings.Cut(w, " ")
		p := partOf(t, u, tag)
		i := slices.Index(u.Parts[p].Positions, pos)
		if i < 0 {
			t.Fatalf("%s cannot be %q", tag, pos)
		}
		s = s.Move(u, p, i)
	}
	return s
}

func libraryUnit(t *testing.T, file string) *circuit.Unit {
	t.Helper()
	src, err := units.Files.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	u, problems := circuit.Parse(file, src)
	for _, p := range problems {
		t.Error(p)
	}
	if u == nil {
		t.FailNow()
	}
	return u
}

// The units of the library against readings and currents worked out by hand in the page
// beside each file; every load is energised in one of the states listed there, nothing
// trips, and nothing exceeds the nameplate.
func TestLibraryAgainstHandValues(t *testing.T) {
	for _, name := range []string{"proving-cabinet", "deck-oven"} {
		t.Run(name, func(t *testing.T) {
			u := libraryUnit(t, name+".yaml")
			n := circuit.NewNetwork(u)
			if problems := circuit.Lint(n); len(problems) > 0 {
				t.Error(problems)
			}
			tables := handTables(t, name+".md")
			dead := tables["from to off set ohms why"]
			if len(dead) < 30 {
				t.Fatalf("%d readings in the page", len(dead))
			}
			for _, row := range dead {
				s := setAs(t, u, circuit.State{}, row[3])
				if row[2] != "" {
					s = s.Lift(endAt(t, u, row[2]))
				}
				want := math.Inf(1)
				if row[4] != "open" {
					want = number(t, row[4])
				}
				got, err := n.Ohms(s, nil, pointOf(t, u, row[0]), pointOf(t, u, row[1]))
				if err != nil {
					t.Fatal(err)
				}
				if math.IsInf(want, 1) != math.IsInf(float64(got), 1) || math.Abs(float64(got)-want) > max(0.6, 0.01*want) {
					t.Errorf("%s to %s, off %q, set %q: %.3f Ω, by hand %v", row[0], row[1], row[2], row[3], float64(got), want)
				}
			}
			legs := u.Sources[0].Legs[:len(u.Sources[0].Legs)-1]
			lit := map[[2]int]bool{}
			live := tables["set "+strings.Join(legs, " ")+" pulled in"]
			if len(live) < 8 {
				t.Fatalf("%d energised states in the page", len(live))
			}
			for _, row := range live {
				l, err := n.Live(setAs(t, u, circuit.State{}.SwitchOn(0), row[0]), nil, nil)
				if err != nil {
					t.Errorf("%s: %v", row[0], err)
					continue
				}
				for i := range legs {
					amps := float64(l.LegAmps(0, i))
					if row[1+i] == "" {
						continue
					}
					if want := number(t, row[1+i]); math.Abs(amps-want) > 0.05*want+1e-6 {
						t.Errorf("%s: %.3f A in %s, by hand %v", row[0], amps, legs[i], want)
					}
					if amps > float64(u.Plate.Amps) {
						t.Errorf("%s: %.1f A, the plate says %v", row[0], amps, u.Plate.Amps)
					}
				}
				if l.Multiple > 0.8 { // continuous load: NEC 424.3(B) and 422.10, from memory
					t.Errorf("%s: %.2f of the breaker", row[0], l.Multiple)
				}
				if earth := l.LegAmps(0, len(legs)); earth > 1e-6 {
					t.Errorf("%s: %v A in PE", row[0], earth)
				}
				var in []string
				for _, p := range l.In.Each() {
					in = append(in, u.Parts[p].Tag)
				}
				if slices.Sort(in); strings.Join(in, " ") != row[len(row)-1] {
					t.Errorf("%s: %v pulled in, by hand %s", row[0], in, row[len(row)-1])
				}
				for p, part := range u.Parts {
					for e, el := range part.Elems {
						if el.Role == circuit.Resist && float64(l.Volts(circuit.Node(el.A), circuit.Node(el.B))) > 0.8*float64(part.Volts) {
							lit[[2]int{p, e}] = true
						}
						if el.Turns > 0 || el.Name == "capacitor" || el.Name == "start winding" {
							lit[[2]int{p, e}] = lit[[2]int{p, e}] || l.Amps(circuit.PartID(p), e) > 0.01
						}
					}
				}
			}
			for p, part := range u.Parts {
				for e, el := range part.Elems {
					if el.Role == circuit.Resist && !lit[[2]int{p, e}] {
						t.Errorf("%s %s is energised in none of the states", part.Tag, el.Name)
					}
				}
			}
		})
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// endAt finds the end of a wire at a part: "14 at K1".
func endAt(t *testing.T, u *circuit.Unit, words string) circuit.EndID {
	t.Helper()
	wire, tag, _ := strings.Cut(words, " at ")
	for i, w := range u.Wires {
		for side, term := range w.Ends {
			if w.Number == wire && u.Parts[u.Terms[term].Part].Tag == tag {
				return circuit.WireID(i).Ends()[side]
			}
		}
	}
	t.Fatalf("%q is not an end", words)
	return 0
}
