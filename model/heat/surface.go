package heat

import "math"

// Surface coefficients, W/(m²·K), of still indoor air, convection and radiation
// together: 1/0.13 = 7.7 for a vertical face (ISO 6946). Two thirds of it is
// radiation, so one constant serves for differences of a few kelvin.
const (
	DefaultH = 8.0
	CoveredH = 5.0  // covered, boxed or facing down
	DraftH   = 12.0 // in moving air
)

// RadiationH is the part of the surface coefficient that radiation carries,
// 4εσT³, for an emissivity 0..1 at tempC (°C). Walls, not air, are what it
// exchanges with: a cold outside wall chills a mold below what an air probe says.
func RadiationH(emissivity, tempC float64) float64 {
	const stefanBoltzmann = 5.670374419e-8 // W/(m²·K⁴), CODATA 2018
	kelvin := tempC + 273.15
	return 4 * emissivity * stefanBoltzmann * kelvin * kelvin * kelvin
}

// PlateNusselt is the mean Nusselt number of free convection on a vertical
// plate for Prandtl and Grashof numbers over its height (Churchill and Chu, Int.
// J. Heat Mass Transfer 18 (1975) 1323).
func PlateNusselt(prandtl, grashof float64) float64 {
	root := 0.825 + 0.387*math.Pow(prandtl*grashof, 1.0/6)/math.Pow(1+math.Pow(0.492/prandtl, 9.0/16), 8.0/27)
	return root * root
}

// CylinderNusselt is the same for a horizontal cylinder over its diameter
// (Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049).
func CylinderNusselt(prandtl, grashof float64) float64 {
	root := 0.60 + 0.387*math.Pow(prandtl*grashof, 1.0/6)/math.Pow(1+math.Pow(0.559/prandtl, 9.0/16), 8.0/27)
	return root * root
}

// ConvectionH is the convective part of the surface coefficient of a vertical
// face of the given height (m), differenceK from air of 20 °C.
func ConvectionH(height, differenceK float64) float64 {
	const ( // air at 20 °C and one atmosphere
		gravity      = 9.80665  // m/s²
		viscosity    = 15.11e-6 // m²/s
		conductivity = 0.02571  // W/(m·K)
		prandtl      = 0.7085
		airK         = 293.15
	)
	grashof := gravity * math.Abs(differenceK) / airK * height * height * height / (viscosity * viscosity)
	return PlateNusselt(prandtl, grashof) * conductivity / height
}
