package heat

// WetPlaster is a shell of gypsum plaster as it is poured, and the heat it will
// give off as it sets, for a mass of water per mass of plaster from 0.4 to 1.
//
// Hydration of the hemihydrate gives 118.5 J/g, between 118 (alpha) and 132
// (beta) from enthalpies of formation; specific heats 0.83 and 4.18 kJ/(kg·K).
// The set takes about a quarter of an hour once it has begun (common practice,
// no source) and hardly depends on temperature from 0 to 40 °C (Ridge, Nature
// 184 (1959) 47). Conductivity is from memory.
func WetPlaster(waterRatio float64) (Material, Reaction) {
	const (
		hydrationJKg = 118500.0
		plasterJ     = 830.0
		waterJ       = 4180.0
		plasterKg    = 2700.0 // density of the powder's grains
		waterKg      = 1000.0
		setSeconds   = 900.0
	)
	whole := 1 + waterRatio
	m := Material{
		Name:          "wet plaster",
		ConductivityW: 0.7,
		DensityKg:     whole / (1/plasterKg + waterRatio/waterKg),
		HeatJ:         (plasterJ + waterRatio*waterJ) / whole,
		Source:        "mixing rule; conductivity from memory",
		Status:        Estimate,
	}
	return m, Reaction{HeatJKg: hydrationJKg / whole, Seconds: setSeconds}
}
