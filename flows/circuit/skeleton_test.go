package circuit_test

import (
	"bytes"
	"math"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// warmer is what a technician would answer about the plate warmer without its file.
func warmer() circuit.Answers {
	return circuit.Answers{Name: "plate warmer", Volts: 208, Neutral: true, Switch: true, Contactor: true,
		Loads: []circuit.AnswerLoad{
			{Kind: circuit.KindElement, Count: 3}, {Kind: circuit.KindLamp, Count: 2, ToNeutral: true}, {Kind: circuit.KindMotor, Count: 1, ToNeutral: true},
		},
		LoadWires: 6}
}

func TestSkeleton(t *testing.T) {
	u, problems := circuit.Skeleton(warmer())
	for _, p := range problems {
		t.Error(p)
	}
	if u == nil {
		t.FailNow()
	}
	if !u.Skeleton || !u.Partial || u.Name != "plate warmer" {
		t.Errorf("skeleton %v, partial %v, name %q", u.Skeleton, u.Partial, u.Name)
	}
	again, _ := circuit.Skeleton(warmer())
	if again == nil || again.Hash != u.Hash || !bytes.Equal(again.Source, u.Source) {
		t.Error("the same answers give another unit")
	}
	// The source is a unit file of its own.
	if back, problems := circuit.Parse("skeleton.yaml", u.Source); back == nil || back.Hash != u.Hash {
		t.Error(problems)
	}
	tags := map[circuit.Kind]int{}
	heads := 0
	for _, p := range u.Parts {
		tags[p.Kind]++
		if p.Kind == circuit.KindContact {
			for _, term := range p.Terms {
				if u.Terms[term].Name[0] == 'T' {
					heads += len(u.Terms[term].Ends)
				}
			}
		}
	}
	for kind, want := range map[circuit.Kind]int{circuit.KindContact: 1, circuit.KindSwitch: 1, circuit.KindElement: 3,
		circuit.KindLamp: 2, circuit.KindMotor: 1, circuit.KindTerminal: 1, circuit.KindGround: 1} {
		if tags[kind] != want {
			t.Errorf("%d parts of kind %s, want %d", tags[kind], kind, want)
		}
	}
	if heads != 6 {
		t.Errorf("%d wires on the load side of the contactor, want 6 as counted", heads)
	}
}

// A lamp to a bonded neutral makes a low path to the frame from the leg it is fed from;
// with the plug out there is none. Common practice, no source.
func TestSkeletonKnowsTheNeutral(t *testing.T) {
	a := warmer()
	for _, plug := range []bool{false, true} {
		a.Plug = plug
		u, problems := circuit.Skeleton(a)
		if u == nil {
			t.Fatal(problems)
		}
		r, err := circuit.NewNetwork(u).Ohms(circuit.State{}, nil, u.FindPoint("K1:T2")[0], circuit.Chassis)
		if err != nil {
			t.Fatal(err)
		}
		if low := r < 1000; low == plug {
			t.Errorf("plug %v: K1:T2 to frame %v Ω", plug, float64(r))
		}
	}
}

func TestSkeletonOfEverySupply(t *testing.T) {
	for _, sup := range []struct {
		volts  float64
		phases int
		legs   int
	}{{120, 1, 1}, {208, 1, 2}, {208, 3, 3}, {240, 1, 2}, {240, 3, 3}, {277, 1, 1}, {480, 1, 2}, {480, 3, 3}, {230, 1, 1}, {400, 3, 3}} {
		for mask := range 8 {
			a := circuit.Answers{Volts: quantity.Volts(sup.volts), Phases: sup.phases, Switch: mask&1 != 0, Contactor: mask&2 != 0, Plug: mask&4 != 0,
				Loads: []circuit.AnswerLoad{{Kind: circuit.KindElement, Count: 5}, {Kind: circuit.KindMotor, Count: 1}}}
			u, problems := circuit.Skeleton(a)
			if u == nil {
				t.Fatalf("%+v: %v\n", a, problems)
			}
			live := 0
			for _, leg := range u.Sources[0].Legs {
				if leg[0] == 'L' {
					live++
				}
			}
			if live != sup.legs {
				t.Errorf("%v V %d-phase: %d live legs, want %d", sup.volts, sup.phases, live, sup.legs)
			}
			for _, p := range u.Parts {
				if p.Kind == circuit.KindElement && (p.Elems[0].Ohms.Lo != 8 || p.Elems[0].Ohms.Hi != 120 || math.Abs(float64(p.Elems[0].Ohms.Nominal)-math.Sqrt(8*120)) > 1e-9) {
					t.Errorf("element %s: %v", p.Tag, p.Elems[0].Ohms)
				}
			}
		}
	}
}

func TestSkeletonProblems(t *testing.T) {
	good := warmer()
	for _, c := range []struct {
		name  string
		spoil func(*circuit.Answers)
		line  int // number of the question
	}{
		{"unknown supply", func(a *circuit.Answers) { a.Volts = 575 }, 1},
		{"no load", func(a *circuit.Answers) { a.Loads = nil }, 3},
		{"a load of no kind", func(a *circuit.Answers) { a.Loads = []circuit.AnswerLoad{{Kind: circuit.KindFuse, Count: 1}} }, 3},
		{"none of a kind", func(a *circuit.Answers) { a.Loads = append(a.Loads[:2:2], circuit.AnswerLoad{Kind: circuit.KindLamp}) }, 3},
		{"neutral loads on a delta", func(a *circuit.Answers) { a.Volts, a.Phases = 240, 3 }, 3},
		{"one wire for two legs", func(a *circuit.Answers) { a.LoadWires = 1 }, 4},
		{"too many loads", func(a *circuit.Answers) {
			a.Loads = []circuit.AnswerLoad{{Kind: circuit.KindElement, Count: 12}, {Kind: circuit.KindElement, Count: 12}, {Kind: circuit.KindElement, Count: 12}}
		}, 3},
	} {
		a := good
		c.spoil(&a)
		u, problems := circuit.Skeleton(a)
		if u != nil || len(problems) != 1 || problems[0].Line != c.line || problems[0].File != "answers" {
			t.Errorf("%s: %v", c.name, problems)
		}
	}
	// Whatever the name is, it stays a name.
	for _, name := range []string{`a "quoted" \name`, "two\nlines: x", "{a: b}", "*x", "- a", "tab\there", "\xff\xfe", "é°Ω"} {
		a := good
		a.Name = name
		if u, problems := circuit.Skeleton(a); u == nil {
			t.Errorf("%q: %v", name, problems)
		}
	}
}
