package isolate

import (
	"math"
	"slices"
)

// Mass is the probability of one outcome.
type Mass struct {
	Outcome int
	P       float64
}

// Outcomes is the distribution of a test's outcome under one hypothesis. Masses are in
// order of Outcome and sum to 1.
type Outcomes []Mass

// Gain returns how many bits, on average, a test tells about the class of the
// hypothesis: the mutual information between class and outcome. weights[h] is the
// belief in hypothesis h (any positive total), class[h] its class in [0, classes),
// rows[h] its outcomes, each below outcomes.
func Gain(weights []float64, class []int, classes int, rows []Outcomes, outcomes int) float64 {
	var g gains
	return g.of(weights, class, classes, rows, outcomes)
}

// gains computes Gain again and again in the same memory.
type gains struct {
	joint, byClass, byOutcome []float64
}

// cleared returns n zeros, in the memory of s if it is large enough.
func cleared(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	s = s[:n]
	clear(s)
	return s
}

func (g *gains) of(weights []float64, class []int, classes int, rows []Outcomes, outcomes int) float64 {
	g.joint = cleared(g.joint, classes*outcomes)
	g.byClass = cleared(g.byClass, classes)
	g.byOutcome = cleared(g.byOutcome, outcomes)
	total := 0.0
	for h, w := range weights {
		if w <= 0 {
			continue
		}
		c := class[h]
		g.byClass[c] += w
		total += w
		at := g.joint[c*outcomes : (c+1)*outcomes]
		for _, m := range rows[h] {
			x := w * m.P
			at[m.Outcome] += x
			g.byOutcome[m.Outcome] += x
		}
	}
	if total <= 0 {
		return 0
	}
	return max(0, entropy(g.byClass, total)+entropy(g.byOutcome, total)-entropy(g.joint, total))
}

// Join returns the outcomes of two tests answered together, independent once the
// hypothesis is known: outcome i of the first and j of the second is i*second+j.
// Outcomes below floor are dropped and the rest scaled back to 1.
func Join(a, b Outcomes, second int, floor float64) Outcomes {
	out := make(Outcomes, 0, len(a)*len(b))
	sum := 0.0
	for _, x := range a {
		for _, y := range b {
			if p := x.P * y.P; p >= floor {
				out = append(out, Mass{Outcome: x.Outcome*second + y.Outcome, P: p})
				sum += p
			}
		}
	}
	for i := range out {
		out[i].P /= sum
	}
	return out
}

// Option is one thing that could be done next.
type Option struct {
	Gain    float64 // bits
	Minutes float64 // set-up included
	Natural int     // lower is what a technician would rather do
	Order   int     // position in the list of candidates: the last tie-break
}

// sameWorth is how close two rates are taken to be equal: a technician would not feel
// the difference, and the natural one is better followed.
const sameWorth = 0.03

// Rank orders options, best first: most bits per minute; among rates within 3 % of
// each other the more natural one; then list order. Options of no gain come last.
func Rank(options []Option) []int {
	rate := func(o Option) float64 {
		return math.Round(o.Gain/max(o.Minutes, 0.1)*1e9) / 1e9
	}
	idx := make([]int, len(options))
	for i := range idx {
		idx[i] = i
	}
	slices.SortStableFunc(idx, func(x, y int) int {
		a, b := options[x], options[y]
		switch ra, rb := rate(a), rate(b); {
		case ra > rb:
			return -1
		case ra < rb:
			return 1
		case a.Natural != b.Natural:
			return a.Natural - b.Natural
		default:
			return a.Order - b.Order
		}
	})
	// Among those as good as the best, the most natural one goes first.
	if len(idx) > 1 {
		limit := rate(options[idx[0]]) * (1 - sameWorth)
		best := 0
		for i := 1; i < len(idx) && rate(options[idx[i]]) >= limit; i++ {
			a, b := options[idx[i]], options[idx[best]]
			if a.Natural < b.Natural {
				best = i
			}
		}
		x := idx[best]
		idx = slices.Insert(slices.Delete(idx, best, best+1), 0, x)
	}
	return idx
}
