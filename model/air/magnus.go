// Package air turns the temperature and relative humidity of moist air into dew point, vapor content and wet bulb.
package air

import "math"

// The Magnus pair of WMO-No. 8, Guide to Instruments and Methods of Observation, Annex 4.B (constants of Sonntag,
// Z. Meteorol. 70 (1990) 340-344): e = magnusPa * exp(slope*t/(offset+t)), t in degC, over liquid water and over ice.
// The guide states -45 to 60 degC over water and -65 to 0.01 degC over ice.
const (
	magnusPa     = 611.2
	waterSlope   = 17.62
	waterOffsetC = 243.12
	iceSlope     = 22.46
	iceOffsetC   = 272.62
)

// SaturationPa returns the saturation vapor pressure in Pa over liquid water, supercooled below 0 degC, at tempC (degC).
// From 0 to 40 degC it lies within 0.35 % of IAPWS-IF97. It is NaN at and below the pole of the formula, -243.12 degC.
func SaturationPa(tempC float64) float64 {
	return magnus(tempC, waterSlope, waterOffsetC)
}

// SaturationIcePa returns the saturation vapor pressure in Pa over ice at tempC (degC), meant for 0 degC and below.
// From -40 to 0 degC it lies within 0.1 % of IAPWS R14-08. It is NaN at and below -272.62 degC.
func SaturationIcePa(tempC float64) float64 {
	return magnus(tempC, iceSlope, iceOffsetC)
}

func magnus(tempC, slope, offsetC float64) float64 {
	if tempC <= -offsetC {
		return math.NaN()
	}
	return magnusPa * math.Exp(slope*tempC/(offsetC+tempC))
}

// VapourPa returns the partial pressure of water vapor in Pa in air at tempC (degC) and humidity (ratio 0..1). Humidity
// refers to liquid water at every temperature, as humidity probes report it, below freezing too.
func VapourPa(tempC, humidity float64) float64 {
	return humidity * SaturationPa(tempC)
}

// Humidity returns the relative humidity (ratio, over liquid water) of air at tempC (degC) whose dew point is dewPointC.
func Humidity(tempC, dewPointC float64) float64 {
	return SaturationPa(dewPointC) / SaturationPa(tempC)
}

// DewPointC returns the temperature in degC at which air of tempC (degC) and humidity (ratio 0..1) would be saturated
// over liquid water: the exact inverse of the Magnus formula. It is NaN when humidity is zero or less. Below 0 degC it is
// not the frost point, which lies higher; see FrostPointC.
func DewPointC(tempC, humidity float64) float64 {
	return inverse(vapourExponent(tempC, humidity), waterSlope, waterOffsetC)
}

// FrostPointC returns the temperature in degC at which air of tempC (degC) and humidity (ratio 0..1, over liquid water)
// would be saturated over ice. It has a physical meaning at 0 degC and below, where it is what handbooks print as "dew
// point". It is NaN when humidity is zero or less.
func FrostPointC(tempC, humidity float64) float64 {
	return inverse(vapourExponent(tempC, humidity), iceSlope, iceOffsetC)
}

// vapourExponent is ln(e/magnusPa), formed without leaving the logarithm so that a round trip closes to rounding.
func vapourExponent(tempC, humidity float64) float64 {
	if humidity <= 0 || tempC <= -waterOffsetC {
		return math.NaN()
	}
	return math.Log(humidity) + waterSlope*tempC/(waterOffsetC+tempC)
}

func inverse(exponent, slope, offsetC float64) float64 {
	return offsetC * exponent / (slope - exponent)
}

// SurfaceMarginK returns how far, in K, a surface at surfaceC (degC) is above the dew point of air at airC (degC) and
// humidity (ratio 0..1). Negative means that water condenses on it. NaN when humidity is zero or less.
//
// Coating practice asks for at least 3 K (the rule attached to ISO 8502-4).
func SurfaceMarginK(surfaceC, airC, humidity float64) float64 {
	return surfaceC - DewPointC(airC, humidity)
}
