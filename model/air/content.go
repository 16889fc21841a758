package air

import "math"

const (
	kelvin = 273.15 // 0 degC in K

	// waterGasFactor is M/R of water, 18.0153 g/mol over 8.31446 J/(mol K), in g K/J (WMO-No. 8, Annex 4.B).
	waterGasFactor = 2.16679

	// massRatio is the molar mass of water over that of dry air (ASHRAE Handbook, Fundamentals 2017, ch. 1).
	massRatio = 0.621945
)

// AbsoluteHumidity returns the mass of water vapor in g per m3 of air at tempC (degC) and humidity (ratio 0..1).
func AbsoluteHumidity(tempC, humidity float64) float64 {
	return waterGasFactor * VapourPa(tempC, humidity) / (tempC + kelvin)
}

// HumidityRatio returns kg of water vapor per kg of dry air at tempC (degC), humidity (ratio 0..1) and pressurePa (Pa).
// The gases are taken as ideal: the enhancement factor that handbook tables include would add about 0.5 %. It is NaN
// when the vapor pressure reaches pressurePa, where no dry air is left.
func HumidityRatio(tempC, humidity, pressurePa float64) float64 {
	return ratioOf(VapourPa(tempC, humidity), pressurePa)
}

func ratioOf(vapourPa, pressurePa float64) float64 {
	if vapourPa >= pressurePa {
		return math.NaN()
	}
	return massRatio * vapourPa / (pressurePa - vapourPa)
}

// PressurePa returns the pressure in Pa of the standard atmosphere at an elevation in m above sea level
// (ASHRAE Handbook, Fundamentals 2017, ch. 1, eq. 3; -5000 to 11000 m).
func PressurePa(elevationM float64) float64 {
	return 101325 * math.Pow(1-2.25577e-5*elevationM, 5.2559)
}
