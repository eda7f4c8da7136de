package circuit

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/flows/quantity"
)

// Answers are what a technician says about a unit that has no file.
type Answers struct {
	Name string // "plate warmer"; may be empty

	// Question 1: the plate.
	Volts   quantity.Volts // 120, 208, 240, 277, 480; 230, 400
	Phases  int            // 1 or 3; 0 counts as 1
	Neutral bool           // four or more wires come in, one of them a neutral
	Plug    bool           // cord and plug; otherwise hard-wired

	// Question 2: is there a master switch, is there a contactor?
	Switch, Contactor bool

	// Question 3: the loads, and what feeds them.
	Loads []AnswerLoad

	// Question 4: how many wires leave on the load side; 0 if not counted.
	LoadWires int
}

// AnswerLoad is a number of equal loads.
type AnswerLoad struct {
	Kind      Kind // KindElement, KindLamp or KindMotor
	Count     int  // 1 to 12
	ToNeutral bool // fed leg to neutral; otherwise leg to leg
}

// mains is a system that a nameplate voltage points to.
type mains struct {
	volts        quantity.Volts
	phases       int
	system       string
	toLeg, toN   quantity.Volts
	neutralKnown bool // the neutral is part of the voltage: one leg and N
	noNeutral    bool
}

// plates are the systems of North American and 230/400 V supplies by nameplate
// voltage. Common practice, no source. 240 V and three phases is taken as a delta.
func plates() []mains {
	return []mains{
		{volts: 120, phases: 1, system: "120/208 wye", toN: 120, neutralKnown: true},
		{volts: 208, phases: 1, system: "120/208 wye", toLeg: 208, toN: 120},
		{volts: 208, phases: 3, system: "120/208 wye", toLeg: 208, toN: 120},
		{volts: 240, phases: 1, system: "120/240 split phase", toLeg: 240, toN: 120},
		{volts: 240, phases: 3, system: "240 delta", toLeg: 240, noNeutral: true},
		{volts: 277, phases: 1, system: "277/480 wye", toN: 277, neutralKnown: true},
		{volts: 480, phases: 1, system: "277/480 wye", toLeg: 480, toN: 277},
		{volts: 480, phases: 3, system: "277/480 wye", toLeg: 480, toN: 277},
		{volts: 230, phases: 1, system: "230 single phase", toN: 230, neutralKnown: true},
		{volts: 400, phases: 3, system: "230/400 wye", toLeg: 400, toN: 230},
	}
}

// Skeleton builds a unit from four questions: wide tolerances, no odds to be told, but
// the supply, the contactor, the neutral and the loads are there. The unit has Skeleton
// and Partial set, and its Source is a unit file that Parse reads.
//
// Problems name "answers" as their file; their line is the number of the question.
func Skeleton(a Answers) (*Unit, []Problem) {
	s := &sketch{a: a, r: &reader{file: "answers"}}
	s.check()
	if len(s.r.problems) > 0 {
		return nil, s.r.problems
	}
	text := s.write()
	if len(s.r.problems) > 0 {
		return nil, s.r.problems
	}
	return Parse("skeleton.yaml", []byte(text))
}

// sketch writes the unit file of a skeleton.
type sketch struct {
	a       Answers
	r       *reader
	supply  mains
	legs    []string // live legs
	neutral bool
	parts   []string
	wires   []string
	heads   []string // terminals on the load side, one per leg: where loads are fed from
	onHead  []int    // load wires on each
}

// check finds the supply and complains of answers that make no circuit.
func (s *sketch) check() {
	a := s.a
	phases := max(a.Phases, 1)
	var known []string
	found := false
	for _, sup := range plates() {
		known = append(known, fmt.Sprintf("%g V %d-phase", float64(sup.volts), sup.phases))
		if sup.volts == a.Volts && sup.phases == phases {
			s.supply, found = sup, true
		}
	}
	if !found {
		s.r.complain(spot{line: 1, col: 1}, "one of: "+strings.Join(known, ", "), "%g V %d-phase is not a supply that can be sketched", float64(a.Volts), phases)
	}
	total, toNeutral := 0, false
	for _, l := range a.Loads {
		if l.Kind != KindElement && l.Kind != KindLamp && l.Kind != KindMotor {
			s.r.complain(spot{line: 3, col: 1}, "element, lamp or motor", "a load cannot be a %q", l.Kind)
		}
		if l.Count < 1 || l.Count > 12 {
			s.r.complain(spot{line: 3, col: 1}, "1 to 12 of a kind", "%d loads of kind %s", l.Count, l.Kind)
		}
		total += l.Count
		toNeutral = toNeutral || l.ToNeutral
	}
	if total == 0 {
		s.r.complain(spot{line: 3, col: 1}, "at least one heater, lamp or motor", "no load at all")
	}
	if toNeutral && found && s.supply.noNeutral {
		s.r.complain(spot{line: 3, col: 1}, "leg to leg, or the system at the panel", "loads to neutral on %s, which has none", s.supply.system)
	}
	if total > 24 {
		s.r.complain(spot{line: 3, col: 1}, "24 loads at most", "%d loads", total)
	}
	if a.LoadWires < 0 || a.LoadWires > 99 {
		s.r.complain(spot{line: 4, col: 1}, "how many wires leave the load side, 0 if nobody counted", "%d wires on the load side", a.LoadWires)
	}
	s.neutral = found && (a.Neutral || toNeutral || s.supply.neutralKnown) && !s.supply.noNeutral
	s.legs = []string{"L1", "L2", "L3"}[:min(2, 1+phases)]
	switch {
	case s.supply.neutralKnown:
		s.legs = s.legs[:1]
	case phases == 3:
		s.legs = []string{"L1", "L2", "L3"}
	}
}

// write gives the text of the unit file.
func (s *sketch) write() string {
	a := s.a
	points := slices.Clone(s.legs)
	if s.neutral {
		points = append(points, "N")
	}
	points = append(points, "PE")
	s.part("X1", "kind: terminal block, points: [%s], looks like: where the supply comes in", strings.Join(points, ", "))
	s.part("G1", "kind: ground stud")
	s.wire("X1:PE", "G1", "green ? fixed")
	s.feed()
	s.loads()

	var b strings.Builder
	name := strings.Join(strings.FieldsFunc(a.Name, func(c rune) bool { return c < ' ' || strings.ContainsRune("\"\\\u0085\u2028\u2029\ufeff\u007f", c) }), " ")
	if name == "" {
		name = "unit without a file"
	}
	fmt.Fprintf(&b, "# Built from four questions. Nothing in it was read off a diagram.\n")
	fmt.Fprintf(&b, "unit: %q\n", name)
	fmt.Fprintf(&b, "about: Sketched on site; ohms, wire numbers and places are not known.\n")
	fmt.Fprintf(&b, "partial: yes\nskeleton: yes\n")
	yes := map[bool]string{true: "yes", false: "no"}
	fmt.Fprintf(&b, "nameplate: {volts: %g, phases: %d, neutral: %s}\n", float64(a.Volts), max(a.Phases, 1), yes[s.neutral])
	lands := make([]string, len(points))
	for i, p := range points {
		lands[i] = p + ": X1:" + p
	}
	fmt.Fprintf(&b, "sources:\n  main:\n    system: %s\n    legs: [%s]\n    lands on: {%s}\n", s.supply.system, strings.Join(points, ", "), strings.Join(lands, ", "))
	if s.neutral {
		fmt.Fprintf(&b, "    neutral bonded: ?\n")
	}
	switch left := points[len(s.legs):]; {
	case a.Plug:
		fmt.Fprintf(&b, "    isolator: {kind: plug, name: cord and plug, leaves connected: []}\n")
	default:
		fmt.Fprintf(&b, "    isolator: {kind: breaker, name: its breaker in the panel or the disconnect at the unit, lockable: yes, leaves connected: [%s]}\n", strings.Join(left, ", "))
	}
	fmt.Fprintf(&b, "hazards: [not known; expect hot surfaces, moving parts, sharp edges, stored energy]\n")
	fmt.Fprintf(&b, "parts:\n%swires:\n%s", strings.Join(s.parts, ""), strings.Join(s.wires, ""))
	return b.String()
}

func (s *sketch) part(tag, format string, args ...any) {
	s.parts = append(s.parts, "  "+tag+": {"+fmt.Sprintf(format, args...)+"}\n")
}

func (s *sketch) wire(x, y, rest string) {
	s.wires = append(s.wires, "  - "+x+" - "+y+"  "+rest+"\n")
}

// feed writes what stands between the supply and the loads, and finds the load side.
func (s *sketch) feed() {
	a := s.a
	back := "X1:N" // the other side of the contactor's coil
	coil := s.supply.toN
	if len(s.legs) > 1 {
		back, coil = "X1:L2", s.supply.toLeg
	}
	switch {
	case a.Contactor:
		s.part("K1", "kind: contactor, poles: %d, coil: %g V, ohms: 6-4000", len(s.legs), float64(coil))
		from := "X1:L1"
		if a.Switch {
			s.part("S1", "kind: switch, poles: 1, looks like: master switch")
			s.wire("X1:L1", "S1:1", "? ?")
			from = "S1:2"
		}
		s.wire(from, "K1:A1", "? ?")
		s.wire(back, "K1:A2", "? ?")
		for i, leg := range s.legs {
			s.wire("X1:"+leg, fmt.Sprintf("K1:L%d", i+1), "? ?")
			s.heads = append(s.heads, fmt.Sprintf("K1:T%d", i+1))
		}
	case a.Switch:
		s.part("S1", "kind: switch, poles: %d, looks like: master switch", len(s.legs))
		for i, leg := range s.legs {
			s.wire("X1:"+leg, fmt.Sprintf("S1:%d", 2*i+1), "? ?")
			s.heads = append(s.heads, fmt.Sprintf("S1:%d", 2*i+2))
		}
	default:
		for _, leg := range s.legs {
			s.heads = append(s.heads, "X1:"+leg)
		}
	}
	s.onHead = make([]int, len(s.heads))
}

// loads writes the loads and their wires. Loads leg to leg are spread over the pairs of
// legs, loads to neutral start on the last leg. Where fewer wires were counted than
// loads need, the last loads of each leg hang on the one before.
func (s *sketch) loads() {
	type drop struct {
		head int
		to   string
	}
	var drops []drop
	var neutrals []string
	counts := map[Kind]int{}
	turn := 0
	for _, l := range s.a.Loads {
		for range l.Count {
			counts[l.Kind]++
			toN := l.ToNeutral || len(s.legs) == 1
			v := s.supply.toLeg
			if toN {
				v = s.supply.toN
			}
			tag := s.load(l.Kind, counts[l.Kind], v)
			n := len(s.legs)
			if toN {
				drops = append(drops, drop{n - 1 - turn%n, tag + ":1"})
				neutrals = append(neutrals, tag+":2")
			} else {
				drops = append(drops, drop{turn % n, tag + ":1"}, drop{(turn + 1) % n, tag + ":2"})
			}
			turn++
			if !toN && n == 2 {
				turn = 0
			}
		}
	}
	used := make([]int, len(s.heads))
	for _, d := range drops {
		used[d.head] = 1
	}
	direct := len(drops)
	if n := s.a.LoadWires; n > 0 {
		direct = min(direct, n)
		if n < sum(used) {
			s.r.complain(spot{line: 4, col: 1}, "0 if nobody counted", "%d wires on the load side, but %d legs feed these loads", n, sum(used))
		}
	}
	// Each head in use keeps its first wire; the rest of the count goes in order.
	last := make([]string, len(s.heads))
	spare := direct - sum(used)
	for _, d := range drops {
		from := s.heads[d.head]
		mark := "? ?"
		switch {
		case last[d.head] == "", spare > 0:
			if last[d.head] != "" {
				spare--
			}
			s.onHead[d.head]++
			mark = fmt.Sprintf("? %d", sum(s.onHead))
		default:
			from = last[d.head]
		}
		s.wire(from, d.to, mark)
		last[d.head] = d.to
	}
	for _, t := range neutrals {
		s.wire(t, "X1:N", "? ?")
	}
}

func sum(xs []int) int {
	n := 0
	for _, x := range xs {
		n += x
	}
	return n
}

// load writes one load and returns its tag. Ranges of ohms are as wide as commercial
// kitchen equipment makes them (common practice, no source): elements 8 to 120 ohm,
// filament lamps cold 3 to 250 ohm, motors 5 to 300 ohm.
func (s *sketch) load(k Kind, i int, v quantity.Volts) string {
	switch k {
	case KindLamp:
		tag := fmt.Sprint("H", i)
		s.part(tag, "kind: lamp, type: filament, volts: %g, ohms: 3-250", float64(v))
		return tag
	case KindMotor:
		tag := fmt.Sprint("M", i)
		s.part(tag, "kind: motor, type: shaded pole, volts: %g, ohms: 5-300", float64(v))
		return tag
	}
	tag := fmt.Sprint("E", i)
	s.part(tag, "kind: element, volts: %g, ohms: 8-120", float64(v))
	return tag
}
