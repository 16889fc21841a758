package forecast

import (
	"math"
	"slices"
)

// CRPSNormal is the continuous ranked probability score of the outcome y under a normal forecast, in the units
// of y; smaller is better. Source: Gneiting and Raftery, JASA 102 (2007), eq. 21.
func CRPSNormal(y, mean, sd float64) float64 {
	if sd <= 0 {
		return math.Abs(y - mean)
	}
	z := (y - mean) / sd
	density := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	below := 0.5 * math.Erfc(-z/math.Sqrt2)
	return sd * (z*(2*below-1) + 2*density - 1/math.SqrtPi)
}

// CRPSEnsemble is the continuous ranked probability score of y under the empirical distribution of the
// members: E|X-y| - E|X-X'|/2. NaN without members.
func CRPSEnsemble(y float64, members []float64) float64 {
	n := float64(len(members))
	return meanDistance(y, members) - pairSpread(members)/(2*n*n)
}

// CRPSFair is CRPSEnsemble without its bias for small ensembles: the pairs are counted n(n-1) times, so that
// the score does not reward an ensemble for its size (Ferro, QJRMS 140 (2014)). It needs two members.
func CRPSFair(y float64, members []float64) float64 {
	n := float64(len(members))
	return meanDistance(y, members) - pairSpread(members)/(2*n*(n-1))
}

func meanDistance(y float64, members []float64) float64 {
	sum := 0.0
	for _, x := range members {
		sum += math.Abs(x - y)
	}
	return sum / float64(len(members))
}

// pairSpread is the sum of |x-x'| over all ordered pairs.
func pairSpread(members []float64) float64 {
	sorted := slices.Sorted(slices.Values(members))
	sum := 0.0
	for i, x := range sorted {
		sum += 2 * x * float64(2*i+1-len(sorted))
	}
	return sum
}

// Pinball is the quantile loss of forecasting y's quantile at a level in (0, 1); smaller is better. Twice its
// integral over all levels is the CRPS. Source: Koenker and Bassett, Econometrica 46 (1978).
func Pinball(level, forecast, y float64) float64 {
	if y >= forecast {
		return level * (y - forecast)
	}
	return (1 - level) * (forecast - y)
}

// IntervalScore is the width of a central interval that misses with probability alpha, plus 2/alpha for every
// unit by which y lies outside it; smaller is better. Source: Gneiting and Raftery, JASA 102 (2007), eq. 43.
func IntervalScore(alpha, low, high, y float64) float64 {
	return high - low + 2/alpha*max(low-y, 0) + 2/alpha*max(y-high, 0)
}

// Quantile of a sorted sample at a level in [0, 1], linear between order statistics. NaN for an empty sample.
func Quantile(sorted []float64, level float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	x := min(max(level, 0), 1) * float64(len(sorted)-1)
	i := min(int(x), len(sorted)-2)
	if i < 0 {
		return sorted[0]
	}
	if frac := x - float64(i); frac > 0 && sorted[i] < sorted[i+1] {
		return sorted[i] + frac*(sorted[i+1]-sorted[i])
	}
	return sorted[i]
}

// ConformalRank is which of n past scores, in ascending order and counted from one, bounds a new one with
// probability at least 1-alpha: ceil((n+1)(1-alpha)). A rank beyond n means no finite bound is warranted.
// Source: Vovk, Gammerman and Shafer, Algorithmic Learning in a Random World (2005).
func ConformalRank(n int, alpha float64) int {
	return int(math.Ceil(float64(n+1)*(1-alpha) - 1e-9))
}
