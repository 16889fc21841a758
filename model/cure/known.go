package cure

import (
	"fmt"
	"math"
)

// Known is the span of temperatures, in degC, that a material's reference times and checks cover, with its floor.
type Known struct {
	LowC, HighC, FloorC float64
}

// Standing says whether a projection may be made at a temperature.
type Standing int

// From best to worst.
const (
	Inside       Standing = iota // covered: project
	Extrapolated                 // near the covered span: project with a wider band
	TooFar                       // no projection
	BelowFloor                   // no cure is assumed, so no projection
)

// Limits outside the covered span, in K. They are assumptions: no standard method covers a bench at 15 to 25 degC, and
// ASTM E2070 asks for isothermal sets over about 10 K.
const (
	NearK = 5  // up to here the band widens by the law's own uncertainty
	FarK  = 10 // up to here it widens twice as fast; beyond it nothing is projected
)

// Verdict is Known's judgement of one temperature.
type Verdict struct {
	Standing Standing
	TempC    float64 // the judged temperature
	ByK      float64 // how far outside the covered span, in K; negative on the cold side, zero inside
	FloorC   float64
}

// Judge places a temperature (degC). NaN is TooFar.
func (k Known) Judge(tempC float64) Verdict {
	v := Verdict{TempC: tempC, FloorC: k.FloorC, ByK: min(tempC-k.LowC, 0) + max(tempC-k.HighC, 0)}
	switch {
	case tempC < k.FloorC:
		v.Standing = BelowFloor
	case v.ByK == 0:
		v.Standing = Inside
	case math.Abs(v.ByK) <= FarK:
		v.Standing = Extrapolated
	default:
		v.Standing = TooFar
	}
	return v
}

// Projects says whether a projection may be made.
func (v Verdict) Projects() bool {
	return v.Standing == Inside || v.Standing == Extrapolated
}

// LnSD returns the standard deviation to add, in quadrature, to the logarithm of a projected time: an activation energy
// off by eaSD (J/mol) over the kelvins outside, counted twice beyond NearK. Zero inside, +Inf where nothing is projected.
func (v Verdict) LnSD(eaSD float64) float64 {
	if !v.Projects() {
		return math.Inf(1)
	}
	outside := math.Abs(v.ByK) + max(0, math.Abs(v.ByK)-NearK)
	temp := v.TempC + kelvin
	return eaSD / GasConstant * outside / (temp * temp)
}

// String says the verdict in words, in degC.
func (v Verdict) String() string {
	side := "above"
	if v.ByK < 0 {
		side = "below"
	}
	switch v.Standing {
	case Inside:
		return fmt.Sprintf("%.1f °C is inside the known range", v.TempC)
	case Extrapolated:
		return fmt.Sprintf("%.1f °C is %.1f K %s the known range: the band is wider", v.TempC, math.Abs(v.ByK), side)
	case BelowFloor:
		return fmt.Sprintf("%.1f °C is below the floor of %.1f °C: no cure is assumed and no time projected", v.TempC, v.FloorC)
	default:
		return fmt.Sprintf("%.1f °C is %.1f K %s the known range: too far to project", v.TempC, math.Abs(v.ByK), side)
	}
}
