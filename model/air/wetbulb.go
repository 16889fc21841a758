package air

import "math"

// FanCoefficient is the psychrometer coefficient A in 1/K of a well ventilated instrument (Fan 1987).
const FanCoefficient = 6.21e-4

// PsychrometerPa returns the vapor pressure in Pa that a psychrometer reads: saturation at the wet bulb less
// A*pressure*(dry - wet), with both bulbs in degC, the pressure in Pa and the coefficient A in 1/K.
func PsychrometerPa(dryC, wetC, pressurePa, coefficient float64) float64 {
	return SaturationPa(wetC) - coefficient*pressurePa*(dryC-wetC)
}

// WetBulbRatio returns the humidity ratio (kg/kg) of air at dryC with the thermodynamic wet bulb at wetC (both degC) and
// pressurePa (Pa): ASHRAE Handbook, Fundamentals 2017, ch. 1, eq. 33 over water and eq. 35 over ice.
func WetBulbRatio(dryC, wetC, pressurePa float64) float64 {
	if wetC < 0 {
		return overIce(dryC, wetC, ratioOf(SaturationIcePa(wetC), pressurePa))
	}
	return overWater(dryC, wetC, ratioOf(SaturationPa(wetC), pressurePa))
}

func overWater(dryC, wetC, saturated float64) float64 {
	return ((2501-2.326*wetC)*saturated - 1.006*(dryC-wetC)) / (2501 + 1.86*dryC - 4.186*wetC)
}

func overIce(dryC, wetC, saturated float64) float64 {
	return ((2830-0.24*wetC)*saturated - 1.006*(dryC-wetC)) / (2830 + 1.86*dryC - 2.1*wetC)
}

// WetBulbC returns the thermodynamic wet-bulb temperature in degC of air at tempC (degC), humidity (ratio 0..1) and
// pressurePa (Pa), by bisection of WetBulbRatio. Below 0 degC the bulb is taken as iced. NaN when humidity is outside
// 0..1 or when HumidityRatio is.
func WetBulbC(tempC, humidity, pressurePa float64) float64 {
	target := HumidityRatio(tempC, humidity, pressurePa)
	if math.IsNaN(target) || humidity < 0 || humidity > 1 {
		return math.NaN()
	}
	low, high := tempC-wetBulbSpanK, tempC
	for range wetBulbHalvings {
		middle := (low + high) / 2
		if WetBulbRatio(tempC, middle, pressurePa) < target {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// Dry air at 60 degC and sea level has its wet bulb 40 K lower, so 60 K brackets every shop; 36 halvings leave 1e-9 K.
const (
	wetBulbSpanK    = 60
	wetBulbHalvings = 36
)
