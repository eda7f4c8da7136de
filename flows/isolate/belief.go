package isolate

import "math"

// Score is a log-likelihood in units of 1/4096 bit. Scores are summed in 64 bits, so
// that a posterior does not depend on the order of the readings or on how a machine
// rounds.
type Score int64

// scoreUnit is one bit.
const scoreUnit = 4096

// impossible stands for a likelihood of zero; it is far below what any number of
// readings can sum to otherwise, and far above where sums overflow.
const impossible Score = -1 << 40

// ScoreOf returns the score of probability p in [0, 1].
func ScoreOf(p float64) Score {
	if p <= 0 {
		return impossible
	}
	return Score(math.Round(math.Log2(p) * scoreUnit))
}

// Posterior returns the weights, summing to 1, of hypotheses with the given prior
// scores after observations. like[k][h] is the score of observation k under
// hypothesis h. With no possible hypothesis left, all weights are zero.
func Posterior(prior []Score, like [][]Score) []float64 {
	total := make([]Score, len(prior))
	copy(total, prior)
	for _, row := range like {
		for h := range total {
			total[h] += row[h]
		}
	}
	best := impossible
	for _, s := range total {
		best = max(best, s)
	}
	w := make([]float64, len(total))
	if best <= impossible/2 {
		return w
	}
	sum := 0.0
	for h, s := range total {
		if d := s - best; d > -60*scoreUnit {
			w[h] = math.Exp2(float64(d) / scoreUnit)
			sum += w[h]
		}
	}
	for h := range w {
		w[h] /= sum
	}
	return w
}

// PerMille rounds weights to whole per mille, each on its own.
func PerMille(w float64) int { return int(math.Round(w * 1000)) }

// entropy returns the entropy in bits of weights that sum to total.
func entropy(w []float64, total float64) float64 {
	if total <= 0 {
		return 0
	}
	h := 0.0
	for _, x := range w {
		if x > 0 {
			p := x / total
			h -= p * math.Log2(p)
		}
	}
	return h
}
