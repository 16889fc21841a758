package cure

import "math"

// Q10 is the rule of thumb that the rate grows by Factor for every 10 K, 1 at RefC and zero below FloorC (degC). The
// doubling rule for pot life is stated in UFGS 09 97 0; it fits an activation energy near 50 kJ/mol at room temperature.
// With Factor zero or less ages are NaN.
type Q10 struct {
	Factor, RefC, FloorC float64
}

// Rate returns the speed of cure at tempC (degC) relative to that at RefC.
func (q Q10) Rate(tempC float64) float64 {
	return q.Age(tempC, tempC, 1)
}

// Age returns the equivalent seconds at RefC of a piece whose temperature runs linearly from fromC to toC (degC), exact
// to rounding: the mean of an exponential over a straight line is its value at the middle times sinh(x)/x. See Law.
func (q Q10) Age(fromC, toC, seconds float64) float64 {
	if !(q.Factor > 0) {
		return math.NaN()
	}
	fromC, toC, seconds = above(q.FloorC, fromC, toC, seconds)
	if seconds <= 0 {
		return 0
	}
	perK := math.Log(q.Factor) / 10
	middle, half := fromC/2+toC/2, toC/2-fromC/2
	return seconds * math.Exp(perK*(middle-q.RefC)) * sinhc(perK*half)
}

// sinhc is sinh(x)/x.
func sinhc(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 + x*x/6
	}
	return math.Sinh(x) / x
}

// EaFromQ10 returns the activation energy in J/mol of an Arrhenius law whose rate grows by factor between lowC and
// highC (degC), a step that need not be 10 K.
func EaFromQ10(factor, lowC, highC float64) float64 {
	return GasConstant * math.Log(factor) / coldness(lowC, highC)
}

// coldness is 1/T1 - 1/T2 in 1/K, formed without the loss of digits of the plain difference.
func coldness(firstC, secondC float64) float64 {
	return (secondC - firstC) / ((firstC + kelvin) * (secondC + kelvin))
}
