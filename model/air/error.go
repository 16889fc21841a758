package air

import "math"

// DewPointSlopes returns how the dew point moves with the probe: kelvin per kelvin of air temperature and kelvin per
// unit of humidity (ratio), both at tempC (degC) and humidity (ratio 0..1). They are the exact derivatives of DewPointC.
func DewPointSlopes(tempC, humidity float64) (perK, perHumidity float64) {
	exponent := vapourExponent(tempC, humidity)
	gap := waterSlope - exponent
	perExponent := waterSlope * waterOffsetC / (gap * gap)
	reach := waterOffsetC + tempC
	return perExponent * waterSlope * waterOffsetC / (reach * reach), perExponent / humidity
}

// DewPointSD returns the standard deviation in K of the dew point when the probe's temperature and humidity carry
// independent errors of standard deviation tempSD (K) and humiditySD (ratio). First order: good while humiditySD is
// small against humidity.
func DewPointSD(tempC, humidity, tempSD, humiditySD float64) float64 {
	perK, perHumidity := DewPointSlopes(tempC, humidity)
	return math.Hypot(perK*tempSD, perHumidity*humiditySD)
}

// SurfaceMarginSD returns the standard deviation in K of SurfaceMarginK when the surface probe adds an independent error
// of standard deviation surfaceSD (K) to those of DewPointSD.
func SurfaceMarginSD(airC, humidity, surfaceSD, tempSD, humiditySD float64) float64 {
	return math.Hypot(surfaceSD, DewPointSD(airC, humidity, tempSD, humiditySD))
}
