package isolate

import (
	"math"
	"slices"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// CheckKind is what a reading before switching on has to show.
type CheckKind uint8

// The checks of safety rule 6.
const (
	FrameBond    CheckKind = iota // frame to ground pin or known ground
	LegToLeg                      // not below 90 % of what a sound unit reads at least
	LegToNeutral                  // the same
	LegToFrame                    // above 1 MΩ with the neutral lifted or the plug out
)

// Limits of the permit. 29 CFR 1910.334(b)(2) asks that it be determined that circuit
// and equipment can be safely energised; the figures are common practice, no source.
const (
	bondMost     quantity.Ohms = 0.2
	frameLeast   quantity.Ohms = 1e6
	shareOfSound               = 0.9
)

// Check is one reading that has to be good before anything is switched on.
type Check struct {
	Kind  CheckKind
	Test  Test
	Min   quantity.Ohms // the reading must not be below; zero: no limit
	Max   quantity.Ohms // the reading must not be above; +Inf: no limit
	Sound quantity.Ohms // what a sound unit reads; +Inf: OL
}

// Passed reports whether a reading is good enough. The leads are subtracted where they
// are known.
func (c Check) Passed(got quantity.Reading, leads quantity.Ohms) bool {
	s := see(got, max(leads, 0))
	switch s.kind {
	case sawOL:
		return math.IsInf(float64(c.Max), 1)
	case sawAbove:
		return math.IsInf(float64(c.Max), 1) && s.at >= scale(float64(c.Min))
	case sawNumber:
		const hair = 1e-9
		return s.at-s.half >= scale(float64(c.Min))-hair && (math.IsInf(float64(c.Max), 1) || s.at+s.half <= scale(float64(c.Max))+hair)
	case sawBelow:
		return c.Min == 0 && s.at <= scale(float64(c.Max))
	}
	return false
}

// tripLimit is the chance of a trip at once from which a fault must not pass the permit.
const tripLimit = 0.05

// Permit lists the readings that must be good before the unit is switched on. s is the
// present state. The first list is read with every wire landed and the switches set as
// for use (ready); the second, to the frame, with the neutral lifted as well (lifted).
//
// Always read are the bond of the frame, the incoming terminals against each other, the
// load terminals of each contactor against each other, and every section to the frame:
// what wires, closed contacts and resistances join. What else
// is read follows by computation: as long as there is a fault of the file that would make
// the breaker go and passes all readings so far, the reading that stops most of them is
// added. So nothing behind an open contact is left out, and nothing is read twice.
func (m *Model) Permit(s circuit.State) (landed []Check, ready circuit.State, frame []Check, lifted circuit.State) {
	u := m.unit
	ready = s
	ready.Lifted = ""
	ready.On = ""
	for c := range u.Covers {
		ready = ready.Uncover(c)
	}
	on, _, _ := switchedOn(u)
	for p := range u.Parts {
		if u.Parts[p].ByHand && !hasCoil(u.Parts[p]) {
			ready = ready.Move(u, circuit.PartID(p), on.Position(u, circuit.PartID(p)))
		}
	}
	lifted = ready
	for _, e := range m.NeutralEnds() {
		lifted = lifted.Lift(e)
	}
	always, pool := m.permitChecks(ready, lifted)
	var left []int
	for i := range m.vars {
		if m.vars[i].on >= tripLimit || m.vars[i].off >= tripLimit {
			left = append(left, i)
		}
	}
	stop := func(c Check) {
		left = slices.DeleteFunc(left, func(i int) bool { return m.stops(c, i) })
	}
	chosen := always
	for _, c := range always {
		stop(c)
	}
	for len(left) > 0 {
		best, most := -1, 0
		for k, c := range pool {
			n := 0
			for _, i := range left {
				if m.stops(c, i) {
					n++
				}
			}
			if n > most {
				best, most = k, n
			}
		}
		if best < 0 {
			break // a fault that no reading shows: the computed chance of a trip remains
		}
		stop(pool[best])
		chosen = append(chosen, pool[best])
		pool = slices.Delete(pool, best, best+1)
	}
	for _, c := range chosen {
		if c.Test.In == lifted && c.Kind == LegToFrame {
			frame = append(frame, c)
		} else {
			landed = append(landed, c)
		}
	}
	return landed, ready, frame, lifted
}

// stops reports whether a reading would not be good enough under a variant.
func (m *Model) stops(c Check, i int) bool {
	v := m.at(c.Test.In)
	r := v.row(c.Test.A, c.Test.B)
	e := v.under(r, r.a(c.Test), r.b(c.Test), i)
	return !c.Passed(readingOf(e.ohms, leadsTypical), leadsTypical)
}

// permitChecks lists the readings that are always taken and those to choose from, in the
// order in which a technician would rather take them.
func (m *Model) permitChecks(ready, lifted circuit.State) (always, pool []Check) {
	inf := quantity.Ohms(math.Inf(1))
	across := func(a, b circuit.Node, kind CheckKind) Check {
		t := m.TestAt(a, b, ready)
		_, sound, _ := m.Sound(t)
		return Check{Kind: kind, Test: t, Min: quantity.Ohms(shareOfSound) * m.least(t), Max: inf, Sound: sound}
	}
	toFrame := func(n circuit.Node) Check {
		return Check{Kind: LegToFrame, Test: m.TestAt(n, circuit.Chassis, lifted), Min: frameLeast, Max: inf, Sound: inf}
	}
	kindOf := func(a, b string) CheckKind {
		if a == "N" || b == "N" {
			return LegToNeutral
		}
		return LegToLeg
	}
	legs := m.legNets(ready)
	for _, src := range m.unit.Sources {
		for _, f := range src.Feeds {
			if f.Leg == "PE" {
				always = append(always, Check{Kind: FrameBond, Test: m.TestAt(m.net.Term(f.Term), circuit.Chassis, ready), Max: bondMost})
			}
		}
	}
	for i, a := range legs {
		for _, b := range legs[i+1:] {
			if a.leg == b.leg {
				continue
			}
			c := across(a.node, b.node, kindOf(a.leg, b.leg))
			switch {
			case a.feed && b.feed, m.oneContactor(a.node, b.node):
				always = append(always, c)
			case a.feed == b.feed || c.Kind == LegToNeutral:
				pool = append(pool, c)
			}
		}
	}
	for _, n := range m.sections(lifted) {
		always = append(always, toFrame(n))
	}
	dead := m.netsOf(ready)
	for _, part := range m.unit.Parts {
		for _, e := range part.Elems {
			if e.Role != circuit.Resist || e.A < 0 || e.B < 0 {
				continue
			}
			kind := LegToLeg
			for _, l := range legs {
				if l.leg == "N" && (dead.same(l.node, m.net.Term(e.A)) || dead.same(l.node, m.net.Term(e.B))) {
					kind = LegToNeutral
				}
			}
			pool = append(pool, across(m.net.Term(e.A), m.net.Term(e.B), kind))
		}
	}
	for _, p := range m.points(m.netsOf(lifted)) {
		if m.at(lifted).row(p.node, circuit.Chassis).sound.ohms >= noPath {
			pool = append(pool, toFrame(p.node))
		}
	}
	return always, pool
}

// oneContactor reports whether two nodes are terminals of one contactor.
func (m *Model) oneContactor(a, b circuit.Node) bool {
	n := circuit.Node(len(m.unit.Terms))
	if a < 0 || b < 0 || a >= n || b >= n {
		return false
	}
	p := m.unit.Terms[a].Part
	return p == m.unit.Terms[b].Part && m.unit.Parts[p].Kind == circuit.KindContact
}

// least is the least that a sound unit can be expected to read.
func (m *Model) least(t Test) quantity.Ohms {
	r := m.at(t.In).row(t.A, t.B)
	if r.sound.ohms >= noPath {
		return frameLeast
	}
	return quantity.Ohms(max(0, math.Exp2(scale(r.sound.ohms)-wide*r.sound.sdAt(leadsKnown))-floor))
}

// legNet is one stretch of copper that is on a leg or on the neutral when the unit
// runs.
type legNet struct {
	leg  string // the first leg in file order that reaches it
	node circuit.Node
	feed bool // it is the one at the incoming terminal
}

// legNets lists the stretches of each leg and of the neutral in a dead state, as the
// contacts then stand, in order of the points a probe would choose. Which leg they are
// on is what is joined to the feed with every contact closed that closes in use.
func (m *Model) legNets(s circuit.State) []legNet {
	u := m.unit
	dead := m.netsOf(s)
	inUse := m.netsOf(s)
	for _, part := range u.Parts {
		for _, e := range part.Elems {
			// Contacts that a coil closes, and those at rest: all that carry current in use.
			if e.Role == circuit.Contact && e.Closed&^1 != 0 && hasCoil(part) {
				inUse.join(int(m.net.Term(e.A)), int(m.net.Term(e.B)))
			}
		}
	}
	var out []legNet
	for _, p := range m.points(dead) {
		for _, src := range u.Sources {
			for _, f := range src.Feeds {
				t := m.net.Term(f.Term)
				if f.Leg == "PE" || !inUse.same(p.node, t) {
					continue
				}
				n := legNet{leg: f.Leg, node: p.node, feed: dead.same(p.node, t)}
				if !m.carriesLoad(dead, p.node) && !n.feed {
					continue
				}
				out = append(out, n)
			}
		}
	}
	return out
}

func hasCoil(p circuit.Part) bool {
	for _, e := range p.Elems {
		if e.Coil {
			return true
		}
	}
	return false
}

// carriesLoad reports whether a part with resistance is joined to a net.
func (m *Model) carriesLoad(n *nets, at circuit.Node) bool {
	for _, part := range m.unit.Parts {
		for _, e := range part.Elems {
			if e.Role == circuit.Resist && (n.same(at, m.net.Term(e.A)) || n.same(at, m.net.Term(e.B))) {
				return true
			}
		}
	}
	return false
}

// sections lists one point of each section of a state: nodes joined by wires, closed
// contacts and resistances. Sections that a bond joins to the frame are left out.
func (m *Model) sections(s circuit.State) []circuit.Node {
	all := m.netsOf(s)
	for _, part := range m.unit.Parts {
		for _, e := range part.Elems {
			if e.Role == circuit.Resist {
				all.join(int(m.net.Term(e.A)), int(m.net.Term(e.B)))
			}
		}
	}
	var out []circuit.Node
	for _, p := range m.points(m.netsOf(s)) {
		known := false
		for _, n := range out {
			known = known || all.same(n, p.node)
		}
		if known || m.at(s).row(p.node, circuit.Chassis).sound.ohms < noPath {
			continue
		}
		out = append(out, p.node)
	}
	return out
}
