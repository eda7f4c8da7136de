package rehearse

import (
	"math"
	"slices"
)

// UpperBound is the one-sided 95 % upper confidence bound of a share, after k of n:
// the share at which k or fewer would come up in one case of twenty (Clopper and
// Pearson, Biometrika 26, 1934). With k = 0 it is close to 3/n.
func UpperBound(k, n int) float64 {
	if n == 0 || k >= n {
		return 1
	}
	lo, hi := float64(k)/float64(n), 1.0
	for range 60 {
		mid := (lo + hi) / 2
		if atMost(k, n, mid) > 0.05 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// atMost is the chance of k or fewer of n at share p.
func atMost(k, n int, p float64) float64 {
	sum := 0.0
	for i := 0; i <= k; i++ {
		sum += math.Exp(logChoose(n, i) + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return sum
}

func logChoose(n, k int) float64 {
	lg := func(x int) float64 { v, _ := math.Lgamma(float64(x + 1)); return v }
	return lg(n) - lg(k) - lg(n-k)
}

// median of values; 0 of none.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	s := slices.Clone(x)
	slices.Sort(s)
	if n := len(s); n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	return s[len(s)/2]
}

// mean of values, and the half width of its 95 % interval (normal); 0 of fewer than two.
func mean(x []float64) (m, half float64) {
	if len(x) == 0 {
		return 0, 0
	}
	for _, v := range x {
		m += v
	}
	m /= float64(len(x))
	if len(x) < 2 {
		return m, 0
	}
	ss := 0.0
	for _, v := range x {
		ss += (v - m) * (v - m)
	}
	return m, 1.96 * math.Sqrt(ss/float64(len(x)-1)/float64(len(x)))
}
