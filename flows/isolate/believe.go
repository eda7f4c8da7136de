package isolate

import (
	"math"
	"slices"

	"halfsplit/flows/circuit"
)

// Believe returns what is held after the readings. It depends only on the set of
// observations that count, not on their order.
func (m *Model) Believe(c Case, obs []Observation) *Belief {
	b := &Belief{about: c}
	for _, o := range obs {
		if !o.Void && see(o.Got, c.Leads).kind != sawNothing {
			b.readers = append(b.readers, o)
		}
	}
	prior := m.prior(c)
	like := make([][]Score, 0, len(b.readers))
	groups := groupRepeats(b.readers)
	for _, g := range groups {
		like = append(like, m.likelihood(c, b.readers, g, prior))
	}
	b.weights = Posterior(prior, like)
	m.summarise(b)
	m.misfits(b)
	b.Wet = m.wet(b)
	m.verdict(b)
	return b
}

// prior returns the prior scores of all variants, and of "not in this unit file" last.
func (m *Model) prior(c Case) []Score {
	p := make([]float64, len(m.vars)+1)
	sum := 0.0
	for i := range m.vars {
		v := &m.vars[i]
		if slices.Contains(c.NewParts, m.items[v.item]) {
			// A part just fitted is seldom bad, but it can be.
			p[i] = 0.1 * v.rate * m.explains(i, c)
		} else {
			p[i] = v.rate * m.explains(i, c)
		}
		sum += p[i]
	}
	unknown := unknownPrior
	if m.unit.Partial {
		unknown = unknownPartial
	}
	out := make([]Score, len(p))
	for i := range m.vars {
		out[i] = impossible
		if p[i] > 0 && p[i] > 1e-7*sum {
			out[i] = ScoreOf(p[i] / sum * (1 - unknown))
		}
	}
	out[len(m.vars)] = ScoreOf(unknown)
	return out
}

// leadsOf is the standard deviation that the leads add.
func leadsOf(c Case) float64 {
	if c.Leads < 0 {
		return leadsUnknown
	}
	return leadsKnown
}

// groupRepeats gathers the indices of observations at the same points in the same
// state, in order of first appearance by key.
func groupRepeats(obs []Observation) [][]int {
	type place struct {
		p pair
		s circuit.State
	}
	index := make(map[place]int)
	var groups [][]int
	for i, o := range obs {
		k := place{pair{max(o.Test.A, o.Test.B), min(o.Test.A, o.Test.B)}, electrical(o.Test.In)}
		g, ok := index[k]
		if !ok {
			g = len(groups)
			index[k] = g
			groups = append(groups, nil)
		}
		groups[g] = append(groups[g], i)
	}
	return groups
}

// likelihood returns the score of one group of repeats under every variant and under
// "not in this unit file". Repeats share one chance of misreading and one of a wire
// that was not off.
func (m *Model) likelihood(c Case, obs []Observation, group []int, prior []Score) []Score {
	t := obs[group[0]].Test
	leads := leadsOf(c)
	sights := make([]sight, len(group))
	for i, g := range group {
		sights[i] = see(obs[g].Got, c.Leads)
	}
	all := func(e expected) float64 {
		p := 1.0
		for _, s := range sights {
			p *= chance(s, e, leads)
		}
		return p
	}
	wild := 1.0
	for _, s := range sights {
		wild *= chanceFlat(s)
	}
	here := m.at(t.In)
	r := here.row(t.A, t.B)
	alts, altRows := m.stillOn(t)
	share := 0.0
	if len(alts) > 0 {
		share = stillOn / float64(len(alts))
	}
	mix := func(fit float64, alt func(k int) float64) float64 {
		p := (1-misread-share*float64(len(alts)))*fit + misread*wild
		for k := range alts {
			p += share * alt(k)
		}
		return p
	}
	soundHere := all(r.sound)
	soundP := mix(soundHere, func(k int) float64 { return all(altRows[k].sound) })
	soundScore := ScoreOf(soundP)
	out := make([]Score, len(prior))
	for i := range m.vars {
		if prior[i] <= impossible {
			out[i] = 0
			continue
		}
		if here.idle(i) && len(alts) == 0 {
			out[i] = soundScore
			continue
		}
		fit := all(here.under(r, r.a(t), r.b(t), i))
		out[i] = ScoreOf(mix(fit, func(k int) float64 {
			return all(alts[k].under(altRows[k], r.a(t), r.b(t), i))
		}))
	}
	out[len(m.vars)] = ScoreOf(unknownSound*soundP + (1-unknownSound)*wild)
	return out
}

func (r *row) a(t Test) circuit.Node { return max(t.A, t.B) }
func (r *row) b(t Test) circuit.Node { return min(t.A, t.B) }

// stillOn returns the views in which one wire end next to a probe, which should be off,
// is still on: at most four.
func (m *Model) stillOn(t Test) ([]*view, []*row) {
	var views []*view
	var rows []*row
	for _, e := range t.In.Lifted.Each() {
		end := circuit.EndID(e)
		if !m.touches(t.A, end) && !m.touches(t.B, end) {
			continue
		}
		v := m.at(t.In.Land(end))
		views = append(views, v)
		rows = append(rows, v.row(t.A, t.B))
		if len(views) == 4 {
			break
		}
	}
	return views, rows
}

// touches reports whether a wire end belongs to a node: it lands there, or its wire is
// the node.
func (m *Model) touches(n circuit.Node, end circuit.EndID) bool {
	if n == circuit.Chassis {
		return false
	}
	w, side := end.Wire()
	return n == m.net.Wire(w) || n == m.net.Term(m.unit.Wires[w].Ends[side])
}

// summarise fills the odds from the weights.
func (m *Model) summarise(b *Belief) {
	sum := make([]float64, len(m.items))
	top := make([]float64, len(m.items))
	fault := make([]circuit.Fault, len(m.items))
	byFault := make(map[circuit.Fault]float64)
	prior := m.prior(b.about)
	before := make([]float64, len(m.items))
	for i, w := range Posterior(prior, nil)[:len(m.vars)] {
		before[m.vars[i].item] += w
	}
	possible := make([]bool, len(m.items))
	for i := range m.vars {
		v := &m.vars[i]
		if prior[i] > impossible {
			possible[v.item] = true
		}
		w := b.weights[i]
		sum[v.item] += w
		byFault[v.Fault] += w
		if byFault[v.Fault] > top[v.item] {
			top[v.item], fault[v.item] = byFault[v.Fault], v.Fault
		}
	}
	order := make([]int, 0, len(m.items))
	for i := range m.items {
		if possible[i] {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(x, y int) int { return PerMille(sum[y]) - PerMille(sum[x]) })
	for _, i := range order {
		b.Odds = append(b.Odds, Odds{Item: m.items[i], PerMille: PerMille(sum[i]), Fault: fault[i]})
	}
	for i := range m.items {
		if !possible[i] {
			continue
		}
		if sum[i] < clearBelow || sum[i] < clearSoon && sum[i] < clearLost*before[i] {
			b.Cleared = append(b.Cleared, m.items[i])
		} else {
			b.Left = append(b.Left, m.items[i])
		}
	}
	b.Unknown = PerMille(b.weights[len(m.vars)])
}

// misfits lists the readings that what is held explains only as misreadings.
func (m *Model) misfits(b *Belief) {
	for _, o := range b.readers {
		if wrong, held := m.asMisread(b, o); held > 0.3 && wrong > 0.7 {
			b.Misfit = append(b.Misfit, o.Seq)
		}
	}
}

// asMisread is the share of what is held in which a reading is a misreading rather than
// what the circuit shows, and how much is held of faults in the file at all.
func (m *Model) asMisread(b *Belief, o Observation) (wrong, held float64) {
	leads := leadsOf(b.about)
	s := see(o.Got, b.about.Leads)
	wild := misread * chanceFlat(s)
	v := m.at(o.Test.In)
	r := v.row(o.Test.A, o.Test.B)
	for i, w := range b.weights[:len(m.vars)] {
		if w < 1e-4 {
			continue
		}
		fit := (1 - misread) * chance(s, v.under(r, r.a(o.Test), r.b(o.Test), i), leads)
		wrong += w * wild / (wild + fit)
		held += w
	}
	if held > 0 {
		wrong /= held
	}
	return wrong, held
}

// Accounts reports whether what is held explains a reading as what the circuit shows.
func (m *Model) Accounts(b *Belief, o Observation) bool {
	wrong, held := m.asMisread(b, o)
	return held > 0.3 && wrong < 0.3
}

// wet reports whether readings on two or more branches that nothing joins are low at
// once, where a sound unit reads OL, and not dead low.
func (m *Model) wet(b *Belief) bool {
	var low []Observation
	for _, o := range b.readers {
		if o.Test.B != circuit.Chassis || !m.leaky(b.about, o) || m.Accounts(b, o) {
			continue
		}
		apart := true
		for _, p := range low {
			joined := m.at(o.Test.In).row(o.Test.A, p.Test.A)
			if joined.sound.ohms < noPath {
				apart = false
			}
		}
		if apart {
			low = append(low, o)
		}
	}
	return len(low) >= 2
}

// leaky reports whether a reading to frame lies in the band of damp and dirt, 100 Ω to
// 1 MΩ, where a sound unit reads OL.
func (m *Model) leaky(c Case, o Observation) bool {
	s := see(o.Got, c.Leads)
	if s.kind != sawNumber || s.at < scale(100) || s.at > scale(1e6) {
		return false
	}
	return m.at(o.Test.In).row(o.Test.A, o.Test.B).sound.ohms >= noPath
}

// verdict judges the top of the belief.
func (m *Model) verdict(b *Belief) {
	if b.Unknown >= int(unknownLimit*1000) {
		b.Verdict = Beyond
		return
	}
	sum := 0
	for _, o := range b.Odds[:min(len(b.Odds), groupMost)] {
		b.Group = append(b.Group, o.Item)
		if sum += o.PerMille; sum >= int(convictAt*1000) {
			break
		}
	}
	if sum < int(convictAt*1000) {
		b.Group = nil
	}
	if len(b.Group) != 1 {
		return
	}
	b.Verdict = Suspect
	for _, o := range b.readers {
		if m.convicts(b.about, b.Odds[0].Item, o) {
			b.Verdict = Proved
			return
		}
	}
}

// convicts reports whether a reading is a direct test of an item: at least 20 times
// likelier with a fault of that item that explains the complaint than with any fault of
// any other item, whether it explains the complaint or not, or none at all. A direct test
// must not depend on the rest of the unit being as the file has it.
func (m *Model) convicts(c Case, it circuit.Item, o Observation) bool {
	s := see(o.Got, c.Leads)
	leads := leadsOf(c)
	here := m.at(o.Test.In)
	r := here.row(o.Test.A, o.Test.B)
	a, b := r.a(o.Test), r.b(o.Test)
	prior := m.prior(c)
	own := 0.0
	for i := range m.vars {
		if prior[i] > impossible && m.items[m.vars[i].item] == it {
			own = math.Max(own, chance(s, here.under(r, a, b, i), leads))
		}
	}
	limit := own / confirmRatio
	if own == 0 || chance(s, r.sound, leads) > limit {
		return false
	}
	alts, altRows := m.stillOn(o.Test)
	for i := range m.vars {
		if m.items[m.vars[i].item] == it {
			continue
		}
		if chance(s, here.under(r, a, b, i), leads) > limit {
			return false
		}
		for k := range alts {
			if stillOn*chance(s, alts[k].under(altRows[k], a, b, i), leads) > limit {
				return false
			}
		}
	}
	return true
}
