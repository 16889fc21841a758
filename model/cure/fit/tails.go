package fit

import "math"

// lnDensity is the logarithm of the standard normal density.
func lnDensity(z float64) float64 {
	return -z*z/2 - math.Log(2*math.Pi)/2
}

// lnBelow is the logarithm of the standard normal distribution, without underflow in either tail.
func lnBelow(z float64) float64 {
	switch {
	case z > 5:
		return math.Log1p(-math.Erfc(z/math.Sqrt2) / 2)
	case z > -36:
		return math.Log(math.Erfc(-z/math.Sqrt2) / 2)
	}
	// Laplace's expansion of the tail (Abramowitz and Stegun, 26.2.12); its next term is below 1e-8 here.
	w := 1 / (z * z)
	return lnDensity(z) - math.Log(-z) + math.Log1p(w*(-1+w*(3-15*w)))
}

// lnBetween is the logarithm of the probability of a < z < b.
func lnBetween(a, b float64) float64 {
	if a > 0 {
		a, b = -b, -a // the lower tail keeps its digits
	}
	high := lnBelow(b)
	return high + math.Log(-math.Expm1(lnBelow(a)-high))
}
