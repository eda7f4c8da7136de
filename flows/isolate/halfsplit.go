package isolate

import (
	"math"

	"halfsplit/flows/circuit"
)

// HalfSplit is what Next is compared with: of the same readings, the one that parts the
// items still left most evenly. Each item counts as one, whatever its share of the
// belief, and minutes do not count; of equal parts the first in the order of the
// candidates is taken, which is that of the file with the present state before any act.
// An item is on the far side if, were it to blame, the reading would more likely than
// not differ from a sound unit's. The errors are those of Next.
func (m *Model) HalfSplit(b *Belief, s circuit.State, ban Bans) (Choice, error) {
	work := m.workOf(b)
	left := make(map[circuit.Item]bool, len(b.Left))
	for _, it := range b.Left {
		left[it] = true
	}
	counts := make([]bool, work.classes) // by class
	suspects := 0
	for k, i := range work.vars {
		if c := work.class[k]; i >= 0 && !counts[c] && left[m.items[m.vars[i].item]] {
			counts[c] = true
			suspects++
		}
	}
	var g gains
	var rows planRows
	var sides apart
	best, found, refused := Choice{}, false, false
	uneven := math.MaxInt
	for _, in := range m.settings(b, s, ban, work) {
		if m.banned(in.acts, ban) {
			refused = true
			continue
		}
		for _, t := range m.tests(b, in, work, ban, &refused) {
			seen := rows.of(m, b, t, work)
			bits := g.of(work.weights, work.class, work.classes, seen, planOutcomes)
			if bits < least {
				continue
			}
			far := sides.count(work, counts, seen, m.soundOutcomes(b, t))
			if off := max(2*far-suspects, suspects-2*far); off < uneven {
				best = Choice{Acts: in.acts, Tests: []Test{t}, Minutes: in.minutes + m.cost.Probe, Gain: bits}
				uneven, found = off, true
			}
		}
	}
	switch {
	case found:
		return best, nil
	case refused:
		return Choice{}, ErrNothingSafe
	}
	return Choice{}, ErrNothingTelling
}

// soundOutcomes is what a sound unit shows at a test.
func (m *Model) soundOutcomes(b *Belief, t Test) Outcomes {
	leads := 0
	if b.about.Leads < 0 {
		leads = 1
	}
	return m.at(t.In).row(t.A, t.B).sound.outcomes(planTable(), leads)
}

// apart counts again and again in the same memory.
type apart struct {
	mix   []float64 // [class][outcome]
	total []float64 // by class
}

// count is the number of classes whose outcomes have less than half in common with
// those of a sound unit; only classes that count are looked at.
func (a *apart) count(w *work, counts []bool, rows []Outcomes, sound Outcomes) int {
	a.mix = cleared(a.mix, w.classes*planOutcomes)
	a.total = cleared(a.total, w.classes)
	for k, weight := range w.weights {
		c := w.class[k]
		a.total[c] += weight
		for _, x := range rows[k] {
			a.mix[c*planOutcomes+x.Outcome] += weight * x.P
		}
	}
	n := 0
	for c := range counts {
		if !counts[c] || a.total[c] <= 0 {
			continue
		}
		common := 0.0
		for _, x := range sound {
			common += math.Min(x.P, a.mix[c*planOutcomes+x.Outcome]/a.total[c])
		}
		if common < 0.5 {
			n++
		}
	}
	return n
}
