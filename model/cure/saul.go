package cure

import "math"

// NurseSaul is the temperature-time factor: the rate grows in proportion to the height over a datum, and an interval below
// the datum adds nothing (Saul, Mag. Concr. Res. 2 (1951) 127-140; ASTM C1074). The rate is 1 at RefC; both are in degC.
// With RefC not above DatumC ages are NaN.
type NurseSaul struct {
	DatumC, RefC float64
}

// Rate returns the speed of cure at tempC (degC) relative to that at RefC.
func (n NurseSaul) Rate(tempC float64) float64 {
	return n.Age(tempC, tempC, 1)
}

// Age returns the equivalent seconds at RefC of a piece whose temperature runs linearly from fromC to toC (degC). It is
// exact. See Law.
func (n NurseSaul) Age(fromC, toC, seconds float64) float64 {
	if n.RefC <= n.DatumC {
		return math.NaN()
	}
	return n.KelvinSeconds(fromC, toC, seconds) / (n.RefC - n.DatumC)
}

// KelvinSeconds returns the temperature-time factor in K s over the same piece.
func (n NurseSaul) KelvinSeconds(fromC, toC, seconds float64) float64 {
	fromC, toC, seconds = above(n.DatumC, fromC, toC, seconds)
	if seconds <= 0 {
		return 0
	}
	return ((fromC-n.DatumC)/2 + (toC-n.DatumC)/2) * seconds
}
