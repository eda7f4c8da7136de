package isolate

import (
	"fmt"
	"math"
	"slices"

	"halfsplit/flows/circuit"
)

// A setting is a state that could be reached from the present one, with what it takes.
type setting struct {
	state   circuit.State
	acts    []Act
	minutes float64
	focus   []circuit.Node // only points joined to one of these are looked at; nil: all
}

// Next returns what to do next: most information about which item is to blame per
// minute, set-up included, among dead tests that can be made with the covers, wires and
// switches of the unit.
func (m *Model) Next(b *Belief, s circuit.State, ban Bans) (Choice, error) {
	work := m.workOf(b)
	type candidate struct {
		in   setting
		test Test
	}
	var g gains
	var rows planRows
	var cands []candidate
	var options []Option
	refused := false
	for _, in := range m.settings(b, s, ban, work) {
		if m.banned(in.acts, ban) {
			refused = true
			continue
		}
		for _, t := range m.tests(b, in, work, ban, &refused) {
			bits := g.of(work.weights, work.class, work.classes, rows.of(m, b, t, work), planOutcomes)
			if bits < least {
				continue
			}
			cands = append(cands, candidate{in, t})
			options = append(options, Option{
				Gain: bits, Minutes: in.minutes + m.cost.Probe, Natural: m.natural(in, t), Order: len(options),
			})
		}
	}
	if len(cands) == 0 {
		if refused {
			return Choice{}, ErrNothingSafe
		}
		return Choice{}, ErrNothingTelling
	}
	// The best few are tried with more readings at the same place, in the same state.
	order := Rank(options)
	type batch struct {
		tests []Test
		opt   Option
		acts  []Act
	}
	var batches []batch
	var grown []Option
	for _, i := range order[:min(len(order), 8)] {
		c := cands[i]
		bt := batch{tests: []Test{c.test}, opt: options[i], acts: c.in.acts}
		so, n := coarseRows(rows.of(m, b, c.test, work)), coarseOf
		base := g.of(work.weights, work.class, work.classes, so, n)
		for len(bt.tests) < 3 && c.test.Kind == ToFrame {
			bestJ, bestGain := -1, 0.0
			var bestRows []Outcomes
			for _, j := range order {
				d := cands[j]
				if d.test.Kind != ToFrame || d.in.state != c.in.state || has(bt.tests, d.test.Key) ||
					m.placeOf(d.test.A) != m.placeOf(c.test.A) {
					continue
				}
				joint := joinRows(so, coarseRows(rows.of(m, b, d.test, work)))
				if bits := g.of(work.weights, work.class, work.classes, joint, n*coarseOf); bits > bestGain+1e-9 {
					bestJ, bestGain, bestRows = j, bits, joint
				}
			}
			if bestJ < 0 {
				break
			}
			gain := bt.opt.Gain + bestGain - base
			minutes := bt.opt.Minutes + m.cost.More
			if bestGain-base < least || gain/minutes <= bt.opt.Gain/bt.opt.Minutes {
				break
			}
			bt.tests = append(bt.tests, cands[bestJ].test)
			bt.opt.Gain, bt.opt.Minutes = gain, minutes
			so, base, n = bestRows, bestGain, n*coarseOf
		}
		bt.opt.Order = len(batches)
		batches = append(batches, bt)
		grown = append(grown, bt.opt)
	}
	final := Rank(grown)
	top := batches[final[0]]
	out := Choice{Acts: top.acts, Tests: top.tests, Minutes: top.opt.Minutes, Gain: top.opt.Gain}
	for _, i := range final[1:] {
		if len(out.Rivals) == 5 {
			break
		}
		keys := make([]string, len(batches[i].tests))
		for k, t := range batches[i].tests {
			keys[k] = t.Key
		}
		out.Rivals = append(out.Rivals, Rival{Keys: keys, Minutes: batches[i].opt.Minutes, Gain: batches[i].opt.Gain})
	}
	return out, nil
}

func has(tests []Test, key string) bool {
	return slices.ContainsFunc(tests, func(t Test) bool { return t.Key == key })
}

// work is the belief cut down to what planning needs.
type work struct {
	vars    []int // indices of variants with weight; -1 is "not in this unit file"
	weights []float64
	class   []int
	classes int
	mass    map[circuit.Item]float64
}

// workKept is the share of the belief that planning looks at, and workMost the most
// variants: both bound the work by a count, never by time.
const (
	workKept = 0.998
	workMost = 400
)

func (m *Model) workOf(b *Belief) *work {
	idx := make([]int, 0, len(m.vars))
	for i, w := range b.weights[:len(m.vars)] {
		if w > 1e-6 {
			idx = append(idx, i)
		}
	}
	slices.SortStableFunc(idx, func(x, y int) int {
		switch {
		case b.weights[x] > b.weights[y]:
			return -1
		case b.weights[x] < b.weights[y]:
			return 1
		}
		return x - y
	})
	w := &work{mass: make(map[circuit.Item]float64)}
	kept := 0.0
	for n, i := range idx {
		if n == workMost || kept > workKept {
			break
		}
		kept += b.weights[i]
		w.vars = append(w.vars, i)
	}
	slices.Sort(w.vars)
	classOf := make(map[int]int)
	for _, i := range w.vars {
		item := m.vars[i].item
		c, ok := classOf[item]
		if !ok {
			c = w.classes
			classOf[item] = c
			w.classes++
		}
		w.class = append(w.class, c)
		w.weights = append(w.weights, b.weights[i])
		w.mass[m.items[item]] += b.weights[i]
	}
	w.vars = append(w.vars, -1)
	w.class = append(w.class, w.classes)
	w.weights = append(w.weights, b.weights[len(m.vars)])
	w.classes++
	return w
}

// planRows are the outcomes of one test under each variant of the work, in memory that
// the next test uses again.
type planRows struct {
	rows  []Outcomes
	loose Outcomes
}

func (p *planRows) of(m *Model, b *Belief, t Test, w *work) []Outcomes {
	v := m.at(t.In)
	r := v.row(t.A, t.B)
	leads := 0
	if b.about.Leads < 0 {
		leads = 1
	}
	table := planTable()
	sound := r.sound.outcomes(table, leads)
	p.rows = p.rows[:0]
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, i := range w.vars {
		switch {
		case i < 0:
			p.loose = looseOutcomes(p.loose[:0], sound)
			p.rows = append(p.rows, p.loose)
		case v.idle(i):
			p.rows = append(p.rows, sound)
		default:
			p.rows = append(p.rows, v.underLocked(r, r.a(t), r.b(t), i).outcomes(table, leads))
		}
	}
	return p.rows
}

// looseOutcomes is what "not in this unit file" expects: often as sound, else anything.
func looseOutcomes(buf, sound Outcomes) Outcomes {
	var p [planOutcomes]float64
	for _, m := range sound {
		p[m.Outcome] += unknownSound * m.P
	}
	for b := range planBins {
		p[b] += (1 - unknownSound) * 0.6 / planBins
	}
	p[outOL] += (1 - unknownSound) * 0.4
	for o, x := range p {
		if x > 0 {
			buf = append(buf, Mass{o, x})
		}
	}
	return buf
}

func coarseRows(rows []Outcomes) []Outcomes {
	out := make([]Outcomes, len(rows))
	for i, r := range rows {
		var p [coarseOf]float64
		for _, m := range r {
			p[coarse(m.Outcome)] += m.P
		}
		for o, x := range p {
			if x > 0 {
				out[i] = append(out[i], Mass{o, x})
			}
		}
	}
	return out
}

func joinRows(a, b []Outcomes) []Outcomes {
	out := make([]Outcomes, len(a))
	for i := range a {
		out[i] = Join(a[i], b[i], coarseOf, 1e-4)
	}
	return out
}

// settings lists the states worth looking at from s: as it is; one switch moved; one
// wire end or a whole stud lifted next to what is left; the neutral off; one more cover
// off, and within it the same.
func (m *Model) settings(b *Belief, s circuit.State, ban Bans, w *work) []setting {
	out := []setting{{state: s}}
	out = append(out, m.within(s, nil, 0, ban, w)...)
	for c, cover := range m.unit.Covers {
		if s.Off.Has(c) {
			continue
		}
		hides := 0.0
		for _, p := range cover.Hides {
			hides += m.massAt(p, w)
		}
		if hides < 0.005 {
			continue
		}
		act := Act{Kind: OpenCover, Cover: c, End: circuit.None, Part: circuit.None, To: circuit.None}
		open := s.Uncover(c)
		minutes := m.coverCost(c) + m.cost.Prove
		out = append(out, setting{state: open, acts: []Act{act}, minutes: minutes})
		out = append(out, m.within(open, []Act{act}, minutes, ban, w)...)
	}
	return out
}

func (m *Model) coverCost(c int) float64 {
	cover := m.unit.Covers[c]
	if cover.Off+cover.On > 0 {
		return float64(cover.Off + cover.On)
	}
	return m.cost.Cover
}

// massAt is the belief in a part and in the wires that land on it.
func (m *Model) massAt(p circuit.PartID, w *work) float64 {
	mass := w.mass[circuit.PartItem(p)]
	for _, t := range m.unit.Parts[p].Terms {
		for _, e := range m.unit.Terms[t].Ends {
			wire, _ := e.Wire()
			mass += w.mass[circuit.WireItem(wire)]
		}
	}
	return mass
}

// nextTo is the belief next to a wire end: in its wire, in the parts at both its ends,
// and in the wires that share its terminals.
func (m *Model) nextTo(e circuit.EndID, w *work) float64 {
	wire, _ := e.Wire()
	mass := 0.0
	for _, t := range m.unit.Wires[wire].Ends {
		mass += w.mass[circuit.PartItem(m.unit.Terms[t].Part)]
		for _, x := range m.unit.Terms[t].Ends {
			other, _ := x.Wire()
			mass += w.mass[circuit.WireItem(other)]
		}
	}
	return mass
}

// near is the belief from which a lift next to it is looked at.
const near = 0.01

// within lists the settings of one more act or stud with the covers of s.
func (m *Model) within(s circuit.State, before []Act, spent float64, ban Bans, w *work) []setting {
	var out []setting
	for p, part := range m.unit.Parts {
		if !part.ByHand || len(part.Positions) < 2 || hasCoil(part) {
			continue // holding a contactor in takes the hand that reads
		}
		now := s.Position(m.unit, circuit.PartID(p))
		for pos := range part.Positions {
			if pos == now {
				continue
			}
			act := Act{Kind: Move, Part: circuit.PartID(p), To: pos, Cover: circuit.None, End: circuit.None}
			out = append(out, setting{
				state:   s.Move(m.unit, circuit.PartID(p), pos),
				acts:    append(slices.Clone(before), act),
				minutes: spent + 2*m.cost.Move,
			})
		}
	}
	if len(before) == 0 {
		// An end that was lifted hides what is wrong at it until it is back on.
		for _, e := range s.Lifted.Each() {
			end := circuit.EndID(e)
			w0, side := end.Wire()
			if m.inReach(m.unit.Wires[w0].Ends[side], s.Off) && m.nextTo(end, w) >= near && !slices.Contains(ban.Ends, end) {
				out = append(out, setting{state: s.Land(end), acts: []Act{landing(end)}, minutes: m.cost.Land, focus: m.sidesOfEnd(end)})
			}
		}
	}
	neutral := m.NeutralEnds()
	seen := make(map[circuit.State]bool)
	addLifts := func(ends []circuit.EndID, all bool) {
		st, acts, minutes := m.lift(s, ends)
		if len(acts) == 0 || seen[st] {
			return
		}
		seen[st] = true
		in := setting{state: st, acts: append(slices.Clone(before), acts...), minutes: spent + minutes}
		if !all {
			for _, e := range ends {
				in.focus = append(in.focus, m.sidesOfEnd(e)...)
			}
		}
		out = append(out, in)
	}
	for t := range m.unit.Terms {
		term := &m.unit.Terms[t]
		if !m.inReach(circuit.TermID(t), s.Off) {
			continue
		}
		var on []circuit.EndID
		mass := 0.0
		for _, e := range term.Ends {
			if s.Lifted.Has(int(e)) || m.fixed(e) || slices.Contains(ban.Ends, e) {
				continue
			}
			on = append(on, e)
			mass = math.Max(mass, m.nextTo(e, w))
		}
		if mass < near {
			continue
		}
		for _, e := range on {
			addLifts([]circuit.EndID{e}, m.IsNeutral(e))
		}
		if len(on) > 1 {
			addLifts(on, false)
		}
	}
	free := slices.DeleteFunc(slices.Clone(neutral), func(e circuit.EndID) bool {
		wire, side := e.Wire()
		return s.Lifted.Has(int(e)) || slices.Contains(ban.Ends, e) || !m.inReach(m.unit.Wires[wire].Ends[side], s.Off)
	})
	if len(free) > 0 {
		addLifts(free, true)
	}
	return out
}

// sidesOfEnd are the two points that a wire end joins: its terminal and its wire.
func (m *Model) sidesOfEnd(e circuit.EndID) []circuit.Node {
	w, side := e.Wire()
	return []circuit.Node{m.net.Term(m.unit.Wires[w].Ends[side]), m.net.Wire(w)}
}

// landing is the act of putting an end back.
func landing(e circuit.EndID) Act {
	return Act{Kind: Land, End: e, Cover: circuit.None, Part: circuit.None, To: circuit.None}
}

// lift returns the state with the given ends off, the acts and the minutes, landing
// included.
func (m *Model) lift(s circuit.State, ends []circuit.EndID) (circuit.State, []Act, float64) {
	var acts []Act
	minutes := 0.0
	opensN := false
	for _, e := range ends {
		if s.Lifted.Has(int(e)) {
			continue
		}
		s = s.Lift(e)
		acts = append(acts, Act{Kind: Lift, End: e, Cover: circuit.None, Part: circuit.None, To: circuit.None})
		minutes += m.cost.Lift + m.cost.Land
		opensN = opensN || m.IsNeutral(e)
	}
	if opensN {
		minutes += m.cost.Neutral
	}
	return s, acts, minutes
}

// banned reports whether any of the acts is one that cannot be done here.
func (m *Model) banned(acts []Act, ban Bans) bool {
	for _, a := range acts {
		switch a.Kind {
		case OpenCover, CloseCover:
			if slices.Contains(ban.Covers, a.Cover) {
				return true
			}
		case Lift, Land:
			if slices.Contains(ban.Ends, a.End) {
				return true
			}
		case Move:
			if slices.Contains(ban.Parts, a.Part) {
				return true
			}
		}
	}
	return false
}

// tests lists the readings worth looking at in a setting: each net to the frame, each
// suspect part end to end, each suspect wire end to end.
func (m *Model) tests(b *Belief, in setting, w *work, ban Bans, refused *bool) []Test {
	n := m.netsOf(in.state)
	pts := m.points(n)
	var out []Test
	add := func(t Test) {
		if slices.ContainsFunc(b.readers, func(o Observation) bool { return o.Test.Key == t.Key }) {
			return // its answer is known; asking again is for doubts only
		}
		if slices.Contains(ban.Keys, t.Key) || slices.Contains(ban.Nodes, t.A) || slices.Contains(ban.Nodes, t.B) {
			*refused = true
			return
		}
		out = append(out, t)
	}
	inFocus := func(a circuit.Node) bool {
		return in.focus == nil || slices.ContainsFunc(in.focus, func(f circuit.Node) bool { return n.same(a, f) })
	}
	for _, p := range pts {
		if inFocus(p.node) {
			add(m.TestAt(p.node, circuit.Chassis, in.state))
		}
	}
	for p, part := range m.unit.Parts {
		if w.mass[circuit.PartItem(circuit.PartID(p))] < near {
			continue
		}
		for e, el := range part.Elems {
			if m.inReach(el.A, in.state.Off) && m.inReach(el.B, in.state.Off) && (inFocus(m.net.Term(el.A)) || inFocus(m.net.Term(el.B))) {
				t := m.TestAt(m.net.Term(el.A), m.net.Term(el.B), in.state)
				t.Kind, t.Part, t.Elem = Across, circuit.PartID(p), e
				add(t)
			}
		}
	}
	if b.about.Complaint != TripsAtOnce {
		for _, t := range m.alongPaths(n, in.state) {
			if inFocus(t.A) {
				add(t)
			}
		}
	}
	for i, wire := range m.unit.Wires {
		if w.mass[circuit.WireItem(circuit.WireID(i))] < near {
			continue
		}
		if m.inReach(wire.Ends[0], in.state.Off) && m.inReach(wire.Ends[1], in.state.Off) && inFocus(m.net.Wire(circuit.WireID(i))) {
			add(m.Along(circuit.WireID(i), in.state))
		}
	}
	return out
}

// alongPaths lists readings along each path of wires and closed contacts: one probe stays
// at the best known point of the net, the other moves from terminal to terminal. An open
// anywhere between shows.
func (m *Model) alongPaths(n *nets, s circuit.State) []Test {
	anchor := make(map[int]circuit.Node)
	for _, p := range m.points(n) {
		anchor[n.find(int(p.node))] = p.node
	}
	var out []Test
	for t := range m.unit.Terms {
		id := circuit.TermID(t)
		node := m.net.Term(id)
		from, ok := anchor[n.find(int(node))]
		if !ok || from == node || !m.inReach(id, s.Off) || len(m.unit.Terms[t].Ends) == 0 {
			continue
		}
		out = append(out, m.TestAt(from, node, s))
	}
	return out
}

// Along is the test of a wire end to end: from its terminal, or its free end where it
// is lifted, to the same at the other end.
func (m *Model) Along(w circuit.WireID, s circuit.State) Test {
	wire := &m.unit.Wires[w]
	at := [2]circuit.Node{m.net.Term(wire.Ends[0]), m.net.Term(wire.Ends[1])}
	ends := w.Ends()
	for i := range at {
		if s.Lifted.Has(int(ends[i])) {
			at[i] = m.net.Wire(w)
			break // with both ends free there is nothing between them to go wrong
		}
	}
	t := m.TestAt(at[0], at[1], s)
	t.Kind, t.Wire = Along, w
	return t
}

// TestAt is the reading between two points in a state; b may be Chassis.
func (m *Model) TestAt(a, b circuit.Node, s circuit.State) Test {
	if a < b {
		a, b = b, a
	}
	t := Test{Kind: Between, A: a, B: b, Part: circuit.None, Elem: circuit.None, Wire: circuit.None, In: s}
	if b == circuit.Chassis {
		t.Kind = ToFrame
	}
	t.Key = fmt.Sprintf("%d-%d|%s|%x", a, b, s.Lifted, string(s.At))
	return t
}

// placeOf is where a technician stands to touch a node: the cover that hides it.
func (m *Model) placeOf(n circuit.Node) int {
	if int(n) < len(m.unit.Terms) && n >= 0 {
		return m.coverOf(circuit.TermID(n))
	}
	for w, wire := range m.unit.Wires {
		if m.net.Wire(circuit.WireID(w)) == n {
			return m.coverOf(wire.Ends[0])
		}
	}
	return circuit.None
}

// natural is lower for what a technician would rather do: fewer acts, to the frame, at
// a contactor or terminal block.
func (m *Model) natural(in setting, t Test) int {
	n := 4 * len(in.acts)
	if t.Kind != ToFrame {
		n += 2
	}
	if int(t.A) < len(m.unit.Terms) {
		switch m.unit.Parts[m.unit.Terms[t.A].Part].Kind {
		case circuit.KindContact, circuit.KindTerminal:
		default:
			n++
		}
	}
	return n
}
