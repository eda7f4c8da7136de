package circuit_test

import (
	"slices"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
)

// Names as the design of the bot asks for them: looks, place, position and mark,
// colour, number.
func TestPointNames(t *testing.T) {
	u := readPlateWarmer(t)
	end := findEnd(t, u, "14 at K1")
	w, _ := end.Wire()
	off := circuit.State{}.Lift(end)
	for _, c := range []struct{ what, got, want string }{
		{"terminal", u.PointOf(u.FindPoint("K1:T2")[0]).String(), "two-pole contactor, grey block with two silver screws at each end, left wall, bottom right screw (T2)"},
		{"terminal, short", u.PointOf(u.FindPoint("K1:T2")[0]).Short(), "K1:T2"},
		{"end", u.EndPoint(end).String(), "two-pole contactor, grey block with two silver screws at each end, left wall, bottom right screw (T2), wire red, 14"},
		{"end, short", u.EndPoint(end).Short(), "14 at K1:T2"},
		{"free end", u.PointIn(u.NodeOf(w), off).String(), "wire red, 14, now off K1:T2 (two-pole contactor, grey block with two silver screws at each end, left wall)"},
		{"wire", u.PointIn(u.NodeOf(w), circuit.State{}).String(), "wire red, 14, K1:T2 to H1:1"},
		{"wire, short", u.PointOf(u.NodeOf(w)).Short(), "14"},
		{"wire without number", u.PointOf(u.NodeOf(6)).Short(), "blue S1:4 to H3:1"},
		{"frame", u.PointOf(circuit.Chassis).String(), "bare frame"},
		{"wire name", u.WireName(w), "14"},
		{"wire name without number", u.WireName(6), "blue wire S1:4 to H3:1"},
		{"wire name with nothing", u.WireName(21), "wire E2:2 to E3:2"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %q, want %q", c.what, c.got, c.want)
		}
	}
}

func TestFindPoint(t *testing.T) {
	u := readPlateWarmer(t)
	name := func(n circuit.Node) string { return u.PointOf(n).Short() }
	for _, c := range []struct{ words, want string }{
		{"14", "14"},
		{"wire 14 at k1", "14"},
		{"14 on k1 t2", "14"},
		{"red 14", "14"},
		{"#14", "14"},
		{"K1:T2", "K1:T2"},
		{"k1-t2", "K1:T2"},
		{"k1t2", "K1:T2"},
		{"T2 on K1.", "K1:T2"},
		{"t2", "K1:T2"},
		{"frame", "frame"},
		{"the bare chassis", "frame"},
		{"Ground", "frame"},
		{"neutral", "X1:N"},
		{"N", "X1:N"},
		{"L1", "X1:L1"},
		{"L1 of K1", "K1:L1"},
		{"a1", "K1:A1"},
		{"brown 17 e1", "17"},
		{"bottom right screw contactor", "K1:T2"},
		{"white wire 9", "9"},
	} {
		got := u.FindPoint(c.words)
		if len(got) == 0 || name(got[0]) != c.want {
			t.Errorf("%q: got %d candidates, want %q first", c.words, len(got), c.want)
			for _, n := range got {
				t.Log(name(n))
			}
		}
	}
	for _, words := range []string{"", "wire", "no 99", "K7:T2", "what do you mean", "..", "Ω"} {
		if got := u.FindPoint(words); got != nil {
			t.Errorf("%q means %d points, first %s", words, len(got), name(got[0]))
		}
	}
	// Two red wires land on T2: the tech may mean either, and each is offered.
	var reds []string
	for _, n := range u.FindPoint("red t2") {
		reds = append(reds, name(n))
	}
	if !slices.Contains(reds, "14") || !slices.Contains(reds, "16") {
		t.Errorf("red at T2: %v", reds)
	}
}

func TestFaultNames(t *testing.T) {
	u := readPlateWarmer(t)
	var names []string
	for _, f := range circuit.AllFaults(u) {
		names = append(names, f.Name(u))
	}
	// 3 elements x 3, 3 lamps x 2, fan 3, coil 3, two poles x 2, five contacts x 3,
	// and 23 wires x 5: the earth wire never is a fault to be lifted.
	if want := 9 + 6 + 3 + 3 + 4 + 15 + 23*5; len(names) != want {
		t.Errorf("%d faults, want %d", len(names), want)
	}
	for _, want := range []string{"element E1 earthed", "contactor K1 coil open", "contactor K1 pole 2 welded",
		"wire 14 (K1:T2 - H1:1) chafed", "wire 15 (K1:T2 - E1:2) broken at E1:2", "blue wire (S1:4 - H3:1) high resistance at S1:4",
		"motor M1 winding earthed"} {
		if !slices.Contains(names, want) {
			t.Errorf("no fault is called %q among:\n%s", want, strings.Join(names, "\n"))
		}
	}
	sorted := slices.Sorted(slices.Values(names))
	if len(slices.Compact(sorted)) != len(names) {
		t.Error("two faults have one name")
	}
	for _, f := range circuit.AllFaults(u) {
		rate := 0.0
		if f.Wire != circuit.None {
			rate = circuit.WireEndRate(u, f.Wire, f.Mode, f.End)
		} else {
			p := u.Parts[f.Part]
			rate = circuit.Rate(p.Kind, p.Elems[f.Elem], f.Mode)
		}
		if rate <= 0 {
			t.Errorf("%s has no rate", f.Name(u))
		}
	}
}
