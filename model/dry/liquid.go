package dry

import "math"

// Liquid is a volatile liquid of a coat, with what decides how fast it leaves
// and how far it cools the film.
type Liquid struct {
	Name          string
	A, B, C       float64 // Antoine: log10(P/Pa) = A - B/(T/K + C)
	VaporizationJ float64 // enthalpy of vaporization at 298 K, J/mol
	MolarMassG    float64 // g/mol
	Volume        float64 // sum of Fuller's atomic diffusion volumes
}

// Fuller's atomic and structural diffusion volumes (Poling, Prausnitz and
// O'Connell, The Properties of Gases and Liquids, 5th ed., table 11-1).
const (
	volumeC    = 15.9
	volumeH    = 2.31
	volumeO    = 6.11
	volumeRing = -18.3
	volumeAir  = 19.7
	molarAirG  = 28.96
)

// The liquids. Antoine constants: Poling, Prausnitz and O'Connell; enthalpies:
// CRC Handbook of Chemistry and Physics.

// Acetone is the fast solvent of thinners.
func Acetone() Liquid {
	return Liquid{"acetone", 9.2184, 1197.01, -45.09, 30990, 58.08, 3*volumeC + 6*volumeH + volumeO}
}

// Ethanol carries shellac.
func Ethanol() Liquid {
	return Liquid{"ethanol", 10.33675, 1648.22, -42.232, 42320, 46.07, 2*volumeC + 6*volumeH + volumeO}
}

// Propanol is 2-propanol.
func Propanol() Liquid {
	return Liquid{"2-propanol", 10.24268, 1580.92, -53.54, 45390, 60.10, 3*volumeC + 8*volumeH + volumeO}
}

// ButylAcetate is n-butyl acetate, the yardstick of lacquer solvents. Its
// Antoine set is extrapolated below 28 °C; ratios stay within 0.02.
func ButylAcetate() Liquid {
	return Liquid{"n-butyl acetate", 9.5, 1596.7, -43.85, 43860, 116.16, 6*volumeC + 12*volumeH + 2*volumeO}
}

// Toluene is a medium lacquer solvent.
func Toluene() Liquid {
	return Liquid{"toluene", 9.05043, 1327.62, -55.525, 38010, 92.14, 7*volumeC + 8*volumeH + volumeRing}
}

// Xylene is o-xylene.
func Xylene() Liquid {
	return Liquid{"o-xylene", 9.09789, 1458.706, -61.109, 43430, 106.17, 8*volumeC + 10*volumeH + volumeRing}
}

// Heptane stands for light naphtha.
func Heptane() Liquid {
	return Liquid{"n-heptane", 9.02023, 1263.909, -56.718, 36570, 100.20, 7*volumeC + 16*volumeH}
}

// Octane stands for VM&P naphtha.
func Octane() Liquid {
	return Liquid{"n-octane", 9.05075, 1356.36, -63.515, 41490, 114.23, 8*volumeC + 18*volumeH}
}

// Decane stands for mineral spirit.
func Decane() Liquid {
	return Liquid{"n-decane", 9.06853, 1495.17, -79.292, 51420, 142.28, 10*volumeC + 22*volumeH}
}

// VaporPa is the saturation vapor pressure, Pa, at tempC (°C).
func (l Liquid) VaporPa(tempC float64) float64 {
	return math.Pow(10, l.A-l.B/(tempC+kelvin+l.C))
}

// BoilingC is the normal boiling point, °C, that the Antoine constants give.
func (l Liquid) BoilingC() float64 {
	return l.B/(l.A-math.Log10(standardPa)) - l.C - kelvin
}

// DiffusivityM2S is the diffusivity of the vapor in air at one atmosphere,
// m²/s, by the method of Fuller, Schettler and Giddings.
func (l Liquid) DiffusivityM2S(tempC float64) float64 {
	pair := 2 / (1/l.MolarMassG + 1/molarAirG)
	volumes := math.Cbrt(l.Volume) + math.Cbrt(volumeAir)
	const barPerAtmosphere, squareMeters = 1.01325, 1e-4
	return squareMeters * 0.00143 * math.Pow(tempC+kelvin, 1.75) /
		(barPerAtmosphere * math.Sqrt(pair) * volumes * volumes)
}
