package heat

import "math"

// Material holds the thermal properties of a layer at about 20 °C, and where
// they are from.
type Material struct {
	Name          string
	ConductivityW float64 // W/(m·K)
	DensityKg     float64 // kg/m³
	HeatJ         float64 // specific heat, J/(kg·K)
	Source        string
	Status        Status
}

// Status says what a value rests on.
type Status string

// The closed list of statuses.
const (
	Published Status = "published"
	Estimate  Status = "estimate" // by mixing rule or from memory, no measurement found
)

const designTable = "EN 12524:2000 design values"

// MoldRubber is the middle value for a filled silicone mold rubber. Measured
// sheets give 0.22 to 0.25 W/(m·K), mixing rules 0.17 to 0.29; design tables
// round up to 0.35 to 0.50 and are not followed.
func MoldRubber() Material {
	return Material{"mold rubber", 0.22, 1200, 1300, "guarded heat-flow measurements on sheet (ASTM E1530) with a Maxwell mixing rule", Estimate}
}

// SlowRubber is the end of the bracket that lags most.
func SlowRubber() Material {
	return Material{"mold rubber, slow end", 0.18, 1100, 1450, "Maxwell mixing rule, little filler", Estimate}
}

// FastRubber is the end of the bracket that lags least.
func FastRubber() Material {
	return Material{"mold rubber, fast end", 0.35, 1350, 1100, "EN 12524:2000 conductivity of pure silicone with a filler's density", Estimate}
}

// Plaster is set gypsum of middle density, dry.
func Plaster() Material {
	return Material{"plaster", 0.43, 1200, 1000, designTable + ", gypsum 1200 kg/m³", Published}
}

// DampPlaster is gypsum 35 days after the pour; moisture makes it carry more
// heat than the design value for its density.
func DampPlaster() Material {
	return Material{"damp plaster", 0.3004, 998, 1520, "measured, Architecture, Civil Engineering, Environment 12 (2019), paper 037", Published}
}

// OilClay is oil- and wax-bound modeling clay; uncertain by 30 %.
func OilClay() Material {
	return Material{"oil clay", 0.45, 1550, 1300, "mixing rule at 65 % mineral by weight, no measurement found", Estimate}
}

// WaterClay is working clay.
func WaterClay() Material {
	return Material{"water clay", 1.2, 1800, 1500, "from memory; EN 12524:2000 has 1.5, 1500, 2085 for moist clay or silt", Estimate}
}

// Wood stands for softwood and plywood.
func Wood() Material {
	return Material{"wood", 0.13, 500, 1600, designTable + ", plywood 500 kg/m³", Published}
}

// Fiberboard stands for MDF and particle board.
func Fiberboard() Material {
	return Material{"fiberboard", 0.14, 600, 1700, designTable + ", particle board 600 kg/m³", Published}
}

// Bronze is the metal of cast originals.
func Bronze() Material {
	return Material{"bronze", 65, 8700, 380, designTable, Published}
}

// Aluminum is an alloy as machined.
func Aluminum() Material {
	return Material{"aluminum", 160, 2800, 880, designTable + ", aluminum alloys", Published}
}

// Steel is plain steel.
func Steel() Material {
	return Material{"steel", 50, 7800, 450, designTable, Published}
}

// GlassLaminate is hand-laid glass and polyester, a usual shell.
func GlassLaminate() Material {
	return Material{"glass laminate", 0.30, 1500, 1100, "mixing rule at 30 % glass by weight, from memory", Estimate}
}

// Resin is a solid cast resin, polyurethane or epoxy, and stands for printed patterns.
func Resin() Material {
	return Material{"resin", 0.25, 1200, 1800, designTable + ", solid polyurethane", Published}
}

// Materials lists every material of the package.
func Materials() []Material {
	return []Material{
		MoldRubber(), SlowRubber(), FastRubber(), Plaster(), DampPlaster(), OilClay(), WaterClay(), Wood(), Fiberboard(),
		Bronze(), Aluminum(), Steel(), GlassLaminate(), Resin(),
	}
}

// DiffusivityM2S is conductivity over heat capacity by volume, m²/s.
func (m Material) DiffusivityM2S() float64 {
	return m.ConductivityW / (m.DensityKg * m.HeatJ)
}

// Effusivity is √(kρc), W·s^½/(m²·K).
func (m Material) Effusivity() float64 {
	return math.Sqrt(m.ConductivityW * m.DensityKg * m.HeatJ)
}

// ContactC is the temperature, °C, that the joint between two thick bodies
// takes at once when they meet, a at aC and b at bC (Carslaw and Jaeger,
// Conduction of Heat in Solids, 2nd ed., 2.15).
func ContactC(a Material, aC float64, b Material, bC float64) float64 {
	ea, eb := a.Effusivity(), b.Effusivity()
	return (ea*aC + eb*bC) / (ea + eb)
}
