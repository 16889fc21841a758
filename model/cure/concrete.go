package cure

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// Eurocode is the adjusted age of concrete, exp(13.65 - 4000/(273+T)), T in degC (EN 1992-1-1:2004, B.10; fib Model Code
// 2010, 5.1-85). Its constants make the factor 0.9981, not 1, at 20 degC. Stated for 0 to 80 degC; below 0 degC it is
// taken as zero.
type Eurocode struct{}

// The printed zero is 273 K, so every temperature is moved down by what that leaves of 273.15 K.
const zeroShift = kelvin - 273

func (Eurocode) law() Arrhenius {
	return Arrhenius{EaJ: 4000 * GasConstant, RefC: 4000/13.65 - kelvin, FloorC: -zeroShift}
}

// Rate returns the factor at tempC (degC).
func (e Eurocode) Rate(tempC float64) float64 {
	return e.law().Rate(tempC - zeroShift)
}

// Age returns the adjusted seconds of a piece whose temperature runs linearly from fromC to toC (degC). See Law.
func (e Eurocode) Age(fromC, toC, seconds float64) float64 {
	return e.law().Age(fromC-zeroShift, toC-zeroShift, seconds)
}

// HansenPedersen is the Arrhenius law with an activation energy that rises in the cold: 33.5 kJ/mol from 20 degC up and
// 1.47 kJ/mol more for every kelvin below (Freiesleben Hansen and Pedersen, Nordisk Betong 1 (1977) 21-25). The rate is 1
// at 20 degC and zero below FloorC.
type HansenPedersen struct {
	FloorC float64
}

const (
	hansenEaJ    = 33_500
	hansenEaPerK = 1_470
	hansenRefC   = 20

	// Gauss points for one panel of at most hansenPanelK: no error above rounding is left.
	hansenPoints = 16
	hansenPanelK = 10
)

// warm is the law from 20 degC up.
func (h HansenPedersen) warm() Arrhenius {
	return Arrhenius{EaJ: hansenEaJ, RefC: hansenRefC, FloorC: max(h.FloorC, hansenRefC)}
}

// Rate returns the speed of cure at tempC (degC) relative to that at 20 degC.
func (h HansenPedersen) Rate(tempC float64) float64 {
	if !(tempC < hansenRefC) {
		return h.warm().Rate(tempC)
	}
	if tempC < max(h.FloorC, ColdestC) {
		return 0
	}
	return coldRate(tempC)
}

// coldRate is the rate below 20 degC.
func coldRate(tempC float64) float64 {
	ea := hansenEaJ + hansenEaPerK*(hansenRefC-tempC)
	return math.Exp(ea / GasConstant * coldness(hansenRefC, tempC))
}

// Age returns the equivalent seconds at 20 degC of a piece whose temperature runs linearly from fromC to toC (degC), the
// cold part by Gauss quadrature, to a relative 1e-10. See Law.
func (h HansenPedersen) Age(fromC, toC, seconds float64) float64 {
	fromC, toC, seconds = above(max(h.FloorC, ColdestC), fromC, toC, seconds)
	low, high := min(fromC, toC), max(fromC, toC)
	switch {
	case seconds <= 0:
		return 0
	case !(low < hansenRefC):
		return h.warm().Age(fromC, toC, seconds)
	case high-low < 1e-6:
		return seconds * coldRate(low+(high-low)/2)
	}
	perK := seconds / (high - low)
	cold := perK * coldSum(low, min(high, hansenRefC))
	return cold + h.warm().Age(hansenRefC, max(high, hansenRefC), perK*(high-hansenRefC))
}

// coldSum integrates coldRate over temperature, in K.
func coldSum(lowC, highC float64) (sum float64) {
	panels := math.Ceil((highC - lowC) / hansenPanelK)
	width := (highC - lowC) / panels
	for i := range int(panels) {
		start := lowC + float64(i)*width
		sum += quad.Fixed(coldRate, start, start+width, hansenPoints, quad.Legendre{}, 0)
	}
	return sum
}
