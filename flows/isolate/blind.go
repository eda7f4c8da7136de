package isolate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// Why says why no dead test sees a fault.
type Why uint8

// The reasons.
const (
	// ByKind: the part by itself does not show it to an ohmmeter, such as a contact that
	// no hand can move, or a capacitor that is open.
	ByKind Why = iota
	// ByWiring: wires that are never lifted keep the part in parallel with something.
	ByWiring
	// ByTolerance: the ohms of the part are known too vaguely.
	ByTolerance
)

// Blind is a fault that no dead test sees, whatever is lifted and set by hand and however
// plain the fault is.
type Blind struct {
	Fault circuit.Fault
	Why   Why
}

// Alike is an ambiguity group: repair items for each of which there is a fault that no
// dead test tells from one of the others. Faults has one for each of Items.
type Alike struct {
	Items  []circuit.Item
	Faults []circuit.Fault
}

// Limits of what a meter tells apart in Blindness.
const (
	blindShare = 1.15 // of the higher reading over the lower, beyond all tolerances
	blindOhms  = 0.25 // and the least difference, in ohms
	vagueOhms  = 1    // the same for a part at its nominal value: below it, as in the secondary
	// of a transformer, no narrower tolerance would help
)

// Blindness looks for faults that no dead test sees, and for repair items that no dead
// test tells apart, with every cover off, every wire end lifted that may be lifted and
// every part moved that a hand can move. Each fault is looked at in its plainest size
// and tolerances in their worst, so what is named is certain, and what is not named may
// still be hard. Both lists are in the order of the file.
func Blindness(net *circuit.Network) ([]Blind, []Alike) {
	m := &Model{net: net, unit: net.Unit()}
	b := &blinds{m: m, net: net, low: limitsOf(net.Unit(), false), high: limitsOf(net.Unit(), true), least: blindOhms}
	b.look()
	return b.blind, b.groups()
}

// BlindProblems writes what Blindness finds and a better file could mend: everything but
// what is so by the kind of the part.
func BlindProblems(net *circuit.Network) []circuit.Problem {
	u := net.Unit()
	if u.Skeleton {
		return nil
	}
	blind, alike := Blindness(net)
	lines := circuit.LinesOf(u)
	var all []circuit.Problem
	complain := func(it circuit.Item, write, found string, args ...any) {
		line, col := lines.Item(it)
		all = append(all, circuit.Problem{File: u.File, Line: line, Col: col, Found: fmt.Sprintf(found, args...), Write: write})
	}
	for _, f := range blind {
		switch f.Why {
		case ByWiring:
			complain(u.Item(f.Fault), "which of its wires can be lifted: fixed is for earth and bonds", "no dead test sees %s: the wires beside it are never lifted", f.Fault.Name(u))
		case ByTolerance:
			complain(u.Item(f.Fault), "ohms as read on a good one, or a narrower range", "no dead test sees %s: its sound ohms are known too vaguely", f.Fault.Name(u))
		}
	}
	for _, g := range alike {
		var names []string
		for _, f := range g.Faults {
			names = append(names, f.Name(u))
		}
		complain(g.Items[0], "which of their wires can be lifted, or one part for all of them", "no dead test tells apart: %s", strings.Join(names, "; "))
	}
	slices.SortStableFunc(all, func(x, y circuit.Problem) int {
		return cmp.Or(cmp.Compare(x.Line, y.Line), cmp.Compare(x.Col, y.Col))
	})
	return all
}

// limitsOf is a unit with every resistance at the low or the high end of its tolerance.
// A reading rises with every single resistance (Rayleigh's monotonicity law), so no
// sound unit reads below the one or above the other.
func limitsOf(u *circuit.Unit, high bool) *circuit.Actual {
	act := &circuit.Actual{}
	for i := range u.Parts {
		var at []quantity.Ohms
		for _, e := range u.Parts[i].Elems {
			if high {
				at = append(at, e.Ohms.Hi)
			} else {
				at = append(at, e.Ohms.Lo)
			}
		}
		act.Elems = append(act.Elems, at)
	}
	return act
}

// blinds is a search for blind faults.
type blinds struct {
	m         *Model
	net       *circuit.Network
	low, high *circuit.Actual
	least     float64 // difference in ohms that is seen
	all       []looked
	blind     []Blind
}

// looked is a fault with the tests that show it.
type looked struct {
	fault  circuit.Fault
	placed circuit.Placed
	shows  []shown
}

// shown is one test that shows a fault, and the band read then.
type shown struct {
	test Test
	got  band
}

// band is the range of a reading; both +Inf without a path.
type band struct{ lo, hi float64 }

// apart reports whether two readings cannot be taken for each other, least ohms being the
// difference that it takes.
func (x band) apart(y band, least float64) bool {
	if x.lo > y.lo {
		x, y = y, x
	}
	if math.IsInf(x.lo, 1) {
		return false
	}
	return y.lo > x.hi*blindShare+least
}

// read is the range of a reading in a state under a fault.
func (b *blinds) read(t Test, f ...circuit.Placed) (band, bool) {
	var out band
	for i, act := range []*circuit.Actual{b.low, b.high} {
		v, err := b.net.DeadUnder(t.In, f, act)
		if err != nil {
			return band{}, false
		}
		r := float64(v.Ohms(t.A, t.B))
		if r >= noPath {
			r = math.Inf(1)
		}
		if i == 0 {
			out.lo = r
		} else {
			out.hi = r
		}
	}
	return out, true
}

// plain is a fault in the size and place that are easiest to see.
func plain(f circuit.Fault) circuit.Placed {
	p := circuit.Placed{Fault: f, Ohms: 0.05}
	switch f.Mode {
	case circuit.HighOhms:
		p.Ohms = 2000
	case circuit.ShortedTurns:
		p.Ohms = 0.005
	}
	return p
}

// look finds the tests that show each fault.
func (b *blinds) look() {
	for _, f := range circuit.AllFaults(b.m.unit) {
		l := looked{fault: f, placed: plain(f)}
		for _, t := range b.tests(f) {
			if got, ok := b.sees(t, l.placed); ok {
				l.shows = append(l.shows, shown{t, got})
			}
		}
		switch {
		case l.shows != nil:
			b.all = append(b.all, l)
		case !b.alone(l.placed, false):
			b.blind = append(b.blind, Blind{f, ByKind})
		case !b.alone(l.placed, true):
			b.blind = append(b.blind, Blind{f, ByTolerance})
		default:
			b.blind = append(b.blind, Blind{f, ByWiring})
		}
	}
}

func (b *blinds) sees(t Test, f circuit.Placed) (band, bool) {
	sound, ok := b.read(t)
	if !ok {
		return band{}, false
	}
	got, ok := b.read(t, f)
	return got, ok && got.apart(sound, b.least)
}

// alone reports whether the fault shows on the part or wire with every wire end of the
// unit off, within its tolerance or at its nominal values.
func (b *blinds) alone(f circuit.Placed, tolerance bool) bool {
	own := *b
	if !tolerance {
		own.low, own.high, own.least = nil, nil, vagueOhms
	}
	for _, t := range b.tests(f.Fault) {
		for w := range b.m.unit.Wires {
			for _, e := range circuit.WireID(w).Ends() {
				if circuit.WireID(w) != f.Wire {
					t.In = t.In.Lift(e)
				}
			}
		}
		if _, ok := own.sees(t, f); ok {
			return true
		}
	}
	return false
}

// tests are the direct tests of a fault with everything off that may come off, in every
// position that a hand can give its part.
func (b *blinds) tests(f circuit.Fault) []Test {
	var s circuit.State
	for c := range b.m.unit.Covers {
		s = s.Uncover(c)
	}
	var out []Test
	for _, way := range b.m.waysToIsolate(f) {
		in := s
		for _, e := range way.ends {
			if !b.m.fixed(e) {
				in = in.Lift(e)
			}
		}
		for _, mv := range way.moves {
			in = in.Move(b.m.unit, mv.Part, mv.To)
		}
		for _, probe := range way.probes(b.m, in) {
			t := b.m.TestAt(probe[0], probe[1], in)
			if !slices.ContainsFunc(out, func(o Test) bool { return o.Key == t.Key }) {
				out = append(out, t)
			}
		}
	}
	return out
}

// groups joins the items of faults that no test tells apart.
func (b *blinds) groups() []Alike {
	u := b.m.unit
	var out []Alike
	done := make(map[circuit.Item]bool)
	for i, x := range b.all {
		it := u.Item(x.fault)
		if done[it] {
			continue
		}
		g := Alike{Items: []circuit.Item{it}, Faults: []circuit.Fault{x.fault}}
		near := b.near(x)
		for _, y := range b.all[i+1:] {
			other := u.Item(y.fault)
			if other == it || slices.Contains(g.Items, other) || !near(y) || b.toldApart(x, y) {
				continue
			}
			g.Items = append(g.Items, other)
			g.Faults = append(g.Faults, y.fault)
		}
		if len(g.Items) > 1 {
			for _, it := range g.Items {
				done[it] = true
			}
			out = append(out, g)
		}
	}
	return out
}

// near returns a filter of the faults that change the first reading that shows x: the
// others leave it sound, and are told apart by it.
func (b *blinds) near(x looked) func(looked) bool {
	t := x.shows[0].test
	v := b.net.Dead(t.In)
	h := v.Half(t.A, t.B)
	sound := float64(h.Ohms())
	return func(y looked) bool {
		c, ok := b.net.Change(t.In, y.placed)
		if !ok {
			return !c.Idle()
		}
		ohms, ok := v.Under(h, c, v.HalfOf(c))
		if r := float64(ohms); ok && (sound >= noPath || r >= noPath) {
			return (sound >= noPath) != (r >= noPath)
		} else if ok {
			return math.Abs(r-sound) > 0.01*sound+0.05
		}
		return true
	}
}

// toldApart reports whether a test of one of two faults reads differently under them.
func (b *blinds) toldApart(x, y looked) bool {
	differs := func(shows []shown, other circuit.Placed) bool {
		return slices.ContainsFunc(shows, func(s shown) bool {
			got, ok := b.read(s.test, other)
			return !ok || got.apart(s.got, b.least)
		})
	}
	return differs(x.shows, y.placed) || differs(y.shows, x.placed)
}
