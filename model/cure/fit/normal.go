// Package fit learns a material's reference time and activation energy from times, checks and measured curves.
package fit

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Normal is what is known of one number: its mean and standard deviation. An SD of +Inf means nothing is known.
type Normal struct {
	Mean, SD float64
}

// Unknown is the Normal that leaves a number to the data.
func Unknown() Normal {
	return Normal{SD: math.Inf(1)}
}

// Update returns the knowledge after an independent measurement m of the same number: means weighted by 1/SD^2 (the
// conjugate normal rule). Two exact values, of SD zero, give the mean of both.
func (n Normal) Update(m Normal) Normal {
	switch {
	case math.IsInf(m.SD, 1):
		return n
	case math.IsInf(n.SD, 1):
		return m
	}
	both := math.Hypot(n.SD, m.SD)
	if both == 0 {
		return Normal{Mean: (n.Mean + m.Mean) / 2}
	}
	share := n.SD / both // squared it is the weight of m
	return Normal{Mean: n.Mean + share*share*(m.Mean-n.Mean), SD: share * m.SD}
}

// Quantile returns the value that the number stays below with probability p (0..1).
func (n Normal) Quantile(p float64) float64 {
	return n.Mean + n.SD*distuv.UnitNormal.Quantile(p)
}

// penalty is minus the logarithm of the density, up to a constant, with its slope.
func (n Normal) penalty(x float64) (value, slope float64) {
	if math.IsInf(n.SD, 1) {
		return 0, 0
	}
	z := (x - n.Mean) / n.SD
	return z * z / 2, z / n.SD
}
