package isolate

import (
	"cmp"
	"math"
	"slices"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// Confirm returns the direct test of the item at the top of the belief, isolated so
// that no other fault of the unit could give the reading that is expected: the fewest
// lifts that do it. The reading is then judged by Believe like any other.
func (m *Model) Confirm(b *Belief, s circuit.State, ban Bans) (Choice, error) {
	if len(b.Odds) == 0 {
		return Choice{}, ErrNothingTelling
	}
	return m.ConfirmFault(b, b.Odds[0].Fault, s, ban)
}

// ConfirmFault is Confirm for a given fault.
func (m *Model) ConfirmFault(b *Belief, f circuit.Fault, s circuit.State, ban Bans) (Choice, error) {
	it := m.unit.Item(f)
	best := Choice{Minutes: math.Inf(1)}
	if !m.held(b, f) {
		return Choice{}, ErrNothingTelling
	}
	refused := false
	for _, way := range m.waysToIsolate(f) {
		open, acts, minutes, ok := m.reach(s, way.touch, ban)
		if !ok {
			refused = true
			continue
		}
		var free []circuit.EndID
		for _, e := range way.ends {
			if !open.Lifted.Has(int(e)) && !m.fixed(e) {
				free = append(free, e)
			}
		}
		for _, subset := range subsets(free, 5) {
			st, lifts, cost := m.lift(open, subset)
			all := append(slices.Clone(acts), lifts...)
			for _, e := range way.landed {
				if st.Lifted.Has(int(e)) {
					st = st.Land(e)
					all = append(all, landing(e))
					cost += m.cost.Land
				}
			}
			for _, mv := range way.moves {
				if st.Position(m.unit, mv.Part) != mv.To {
					st = st.Move(m.unit, mv.Part, mv.To)
					all = append(all, mv)
					cost += 2 * m.cost.Move
				}
			}
			if m.banned(all, ban) {
				refused = true
				continue
			}
			total := minutes + cost + m.cost.Probe
			if total >= best.Minutes {
				continue
			}
			for _, probe := range way.probes(m, st) {
				t := m.TestAt(probe[0], probe[1], st)
				t.Kind, t.Part, t.Elem, t.Wire = way.kind, f.Part, f.Elem, f.Wire
				if slices.Contains(ban.Keys, t.Key) || slices.Contains(ban.Nodes, t.A) || slices.Contains(ban.Nodes, t.B) {
					refused = true
					continue
				}
				if slices.ContainsFunc(b.readers, func(o Observation) bool { return o.Test.Key == t.Key }) {
					continue // it was read, and did not convict
				}
				if m.wouldConvict(b, it, f, t) {
					target := f
					best = Choice{Acts: all, Tests: []Test{t}, Minutes: total, Target: &target}
					break
				}
			}
		}
	}
	switch {
	case best.Target != nil:
		best.Gain = entropy([]float64{convictAt, 1 - convictAt}, 1)
		return best, nil
	case refused:
		return Choice{}, ErrNothingSafe
	}
	return Choice{}, ErrNothingTelling
}

// held reports whether anything is still held of a fault.
func (m *Model) held(b *Belief, f circuit.Fault) bool {
	for i := range m.vars {
		if b.weights[i] > 0 && m.vars[i].Fault == f {
			return true
		}
	}
	return false
}

// way is one manner of isolating a part or wire: ends to take off, terminals that must
// be in reach, and where to put the probes.
type way struct {
	ends   []circuit.EndID
	landed []circuit.EndID // must be on: the fault is at that end
	moves  []Act           // set so that the contact in question should be open, or closed
	touch  []circuit.TermID
	kind   Kind
	probes func(m *Model, s circuit.State) [][2]circuit.Node
}

// waysToIsolate lists the direct tests of a fault. Every failure mode has one.
func (m *Model) waysToIsolate(f circuit.Fault) []way {
	u := m.unit
	if f.Wire != circuit.None {
		return m.waysForWire(f)
	}
	part := &u.Parts[f.Part]
	el := &part.Elems[f.Elem]
	endsAt := func(ts ...circuit.TermID) []circuit.EndID {
		var out []circuit.EndID
		for _, t := range ts {
			out = append(out, u.Terms[t].Ends...)
		}
		return out
	}
	a, b := m.net.Term(el.A), m.net.Term(el.B)
	switch f.Mode {
	case circuit.Earthed, circuit.EarthedTerm:
		// Everything off both ends, then each end to the frame. Other elements of the
		// part that share a terminal come off with it, so their far ends count too.
		touch := append([]circuit.TermID(nil), part.Terms...)
		one := []circuit.TermID{el.A, el.B}
		frame := func(_ *Model, _ circuit.State) [][2]circuit.Node {
			return [][2]circuit.Node{{a, circuit.Chassis}, {b, circuit.Chassis}}
		}
		return []way{
			{ends: endsAt(one...), touch: one, kind: ToFrame, probes: frame},
			{ends: endsAt(part.Terms...), touch: touch, kind: ToFrame, probes: frame},
		}
	default:
		moves := m.setFor(f)
		across := func(_ *Model, _ circuit.State) [][2]circuit.Node { return [][2]circuit.Node{{a, b}} }
		touch := []circuit.TermID{el.A, el.B}
		return []way{
			{ends: endsAt(el.A), moves: moves, touch: touch, kind: Across, probes: across},
			{ends: endsAt(el.B), moves: moves, touch: touch, kind: Across, probes: across},
			{ends: endsAt(el.A, el.B), moves: moves, touch: touch, kind: Across, probes: across},
		}
	}
}

// setFor lists what must be set by hand for a contact fault to show: the contact should
// be open to find it welded, closed to find that it never closes. A contactor is then
// held in with an insulated tool.
func (m *Model) setFor(f circuit.Fault) []Act {
	part := &m.unit.Parts[f.Part]
	el := &part.Elems[f.Elem]
	if el.Role != circuit.Contact || !part.ByHand || f.Mode != circuit.Welded && f.Mode != circuit.NeverCloses {
		return nil
	}
	for pos := range part.Positions {
		if closed := el.Closed&(1<<pos) != 0; closed == (f.Mode == circuit.NeverCloses) {
			return []Act{{Kind: Move, Part: f.Part, To: pos, Cover: circuit.None, End: circuit.None}}
		}
	}
	return nil
}

func (m *Model) waysForWire(f circuit.Fault) []way {
	wire := &m.unit.Wires[f.Wire]
	ends := f.Wire.Ends()
	node := m.net.Wire(f.Wire)
	touch := wire.Ends[:]
	if f.Mode == circuit.Chafed {
		return []way{{
			ends: ends[:], touch: touch, kind: ToFrame,
			probes: func(_ *Model, _ circuit.State) [][2]circuit.Node {
				return [][2]circuit.Node{{node, circuit.Chassis}}
			},
		}}
	}
	along := func(m *Model, s circuit.State) [][2]circuit.Node {
		t := m.Along(f.Wire, s)
		return [][2]circuit.Node{{t.A, t.B}}
	}
	// One end off, at the far side of the bad joint, so that the joint stays in the path.
	far, near := ends[1], ends[0]
	if f.End == 1 {
		far, near = near, far
	}
	return []way{{ends: []circuit.EndID{far}, landed: []circuit.EndID{near}, touch: touch, kind: Along, probes: along}}
}

// reach opens the covers that hide terminals.
func (m *Model) reach(s circuit.State, touch []circuit.TermID, ban Bans) (circuit.State, []Act, float64, bool) {
	var acts []Act
	minutes := 0.0
	for _, t := range touch {
		c := m.coverOf(t)
		if m.inReach(t, s.Off) {
			continue
		}
		if slices.Contains(ban.Covers, c) {
			return s, nil, 0, false
		}
		s = s.Uncover(c)
		acts = append(acts, Act{Kind: OpenCover, Cover: c, End: circuit.None, Part: circuit.None, To: circuit.None})
		minutes += m.coverCost(c) + m.cost.Prove
	}
	return s, acts, minutes, true
}

// subsets lists the subsets of up to most of the first ends, the empty one first, by
// size and then in order. Beyond most ends only the whole set is added.
func subsets(ends []circuit.EndID, most int) [][]circuit.EndID {
	n := min(len(ends), most)
	var out [][]circuit.EndID
	for mask := range 1 << n {
		var s []circuit.EndID
		for i := range n {
			if mask&(1<<i) != 0 {
				s = append(s, ends[i])
			}
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b []circuit.EndID) int { return len(a) - len(b) })
	if len(ends) > n {
		out = append(out, ends)
	}
	return out
}

// wouldConvict reports whether the reading to be expected of a test, if the item is at
// fault as the belief has it, would convict it with some margin.
func (m *Model) wouldConvict(b *Belief, it circuit.Item, f circuit.Fault, t Test) bool {
	v := m.at(t.In)
	r := v.row(t.A, t.B)
	// The likeliest variants of the fault, until most of its mass is covered.
	type weighted struct {
		i int
		w float64
	}
	var own []weighted
	for i := range m.vars {
		if m.vars[i].Fault == f && b.weights[i] > 0 {
			own = append(own, weighted{i, b.weights[i]})
		}
	}
	slices.SortStableFunc(own, func(x, y weighted) int { return cmp.Compare(y.w, x.w) })
	total, good := 0.0, 0.0
	for _, x := range own[:min(len(own), confirmTried)] {
		total += x.w
		e := v.under(r, r.a(t), r.b(t), x.i)
		if m.convicts(b.about, it, Observation{Test: t, Got: readingOf(e.ohms, b.about.Leads)}) {
			good += x.w
		}
	}
	return total > 0 && good >= 0.6*total
}

// confirmTried is how many variants of a fault are tried to see whether a test would
// convict it.
const confirmTried = 24

// readingOf is what a meter would show for ohms, leads included.
func readingOf(ohms float64, leads quantity.Ohms) quantity.Reading {
	if ohms > rangeTop {
		return quantity.Reading{Class: quantity.Open, Unit: quantity.Ohm}
	}
	if leads < 0 {
		leads = leadsTypical
	}
	d := quantity.DecimalOf(ohms+float64(leads), 3)
	return quantity.Reading{Class: quantity.Value, Lo: d, Hi: d, Unit: quantity.Ohm}
}
