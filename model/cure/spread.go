package cure

import "math"

// Spread is what is not known of the time that an event of a material takes. Every part is a standard
// deviation and they are independent of each other, but for what Cov says.
type Spread struct {
	LnSD   float64 // of ln(time) at the reference temperature
	EaSDJ  float64 // of the activation energy, J/mol
	Cov    float64 // covariance of the two, J/mol; 0 unless both were learned together
	ProbeK float64 // of what the probe reads, K
	LagSD  float64 // of ln(time), by what is not known of the lag behind the air
	Known  Known   // the temperatures the material is known for
}

// LnSDOf is the standard deviation of ln(time) for an account that was kept between a coldest and a hottest
// temperature, degC: reference time, activation energy as far as the temperatures were from the reference,
// probe, lag, and temperatures outside those the material is known for.
func (s Spread) LnSDOf(law Arrhenius, acc Account, coldestC, hottestC float64) float64 {
	refK := law.RefC + kelvin
	perK := law.EaJ / (GasConstant * refK * refK)
	ea := 0.0
	if acc.Age > 0 {
		ea = acc.DEa / acc.Age
	}
	own := s.LnSD*s.LnSD + square(s.EaSDJ*ea) - 2*ea*s.Cov
	return math.Sqrt(max(0, own) + square(perK*s.ProbeK) + square(s.LagSD) + square(s.OutsideSD(coldestC, hottestC)))
}

// OutsideSD is what having been outside the known temperatures adds to the standard deviation of ln(time);
// at most 1, beyond which nothing is told anyway. It is 0 where the coldest is above the hottest: nothing
// was felt yet.
func (s Spread) OutsideSD(coldestC, hottestC float64) float64 {
	if coldestC > hottestC {
		return 0
	}
	cold, hot := s.outside(coldestC, hottestC)
	return min(max(cold.LnSD(s.EaSDJ), hot.LnSD(s.EaSDJ)), 1)
}

// TooFar reports whether it was so far outside that nothing may be told.
func (s Spread) TooFar(coldestC, hottestC float64) bool {
	if coldestC > hottestC {
		return false
	}
	cold, hot := s.outside(coldestC, hottestC)
	return cold.Standing == TooFar || hot.Standing == TooFar
}

// outside judges the coldest and hottest, as far as anything cures there.
func (s Spread) outside(coldestC, hottestC float64) (cold, hot Verdict) {
	return s.Known.Judge(max(coldestC, s.Known.FloorC)), s.Known.Judge(max(hottestC, s.Known.FloorC))
}

func square(x float64) float64 { return x * x }
