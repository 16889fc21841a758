package cure

import "math"

// Conversion laws say how far a reaction has come after a reduced time: the cure age times the rate constant at the
// reference. Any law with a single activation energy depends on temperature through that alone (Ding and Leonov, Rubber
// Chem. Technol. 69 (1996), the reduced-time approach), so an event at a fixed conversion has a fixed cure age.

// OrderN returns the conversion (0..1) of a reaction of order n after the reduced time kt, both zero or more. For n below
// 1 the reaction completes at kt = 1/(1-n).
func OrderN(n, kt float64) float64 {
	if n == 1 {
		return -math.Expm1(-kt)
	}
	spent := (n - 1) * kt
	if spent <= -1 {
		return 1
	}
	return -math.Expm1(-math.Log1p(spent) / (n - 1)) // keeps its digits near n = 1
}

// Autocatalytic returns the conversion (0..1) at time t of the reaction dx/dt = (a + b*x)(1 - x) from x = 0, with a > 0
// and b >= 0 in reciprocal units of t: the Kamal-Sourour law with both exponents 1.
func Autocatalytic(a, b, t float64) float64 {
	decay := math.Exp(-(a + b) * t)
	return -math.Expm1(-(a+b)*t) / (1 + b/a*decay)
}

// GelConversion returns the conversion at which an end-linked network of crosslinks with the given functionality gels,
// 1/sqrt(f-1) at exact stoichiometry (Flory and Stockmayer). It is NaN below three, which form no network.
func GelConversion(functionality int) float64 {
	if functionality < 3 {
		return math.NaN()
	}
	return 1 / math.Sqrt(float64(functionality-1))
}
