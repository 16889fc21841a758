package dry

// Class groups coats that dry by the same mechanism.
type Class uint8

// The closed list of classes.
const (
	Lacquer       Class = iota // solvent lacquer, acrylic spray, resin in ester or aromatic solvent
	Alcohol                    // shellac and other resins in ethanol
	WaterBorne                 // water-borne sealer, PVA film, soap
	LightNaphtha               // wax or oil carried in heptane-like naphtha
	Naphtha                    // wax or oil carried in VM&P (octane-like) naphtha
	MineralSpirit              // wax or oil carried in mineral spirit (decane-like)
	WaitOnly                   // neat wax, petrolatum, non-drying oil: never dries, only the sheet's wait counts
	DryingOil                  // linseed and other oils that harden by oxidation
)

// String names the class in plain words.
func (c Class) String() string {
	switch c {
	case Lacquer:
		return "solvent lacquer"
	case Alcohol:
		return "shellac or alcohol"
	case WaterBorne:
		return "water-borne"
	case LightNaphtha:
		return "light naphtha"
	case Naphtha:
		return "naphtha"
	case MineralSpirit:
		return "mineral spirit"
	case WaitOnly:
		return "wait only"
	case DryingOil:
		return "drying oil"
	}
	return "unknown class"
}

// Dries reports whether the class becomes dry at all. For a class that does
// not, a finished Progress means that the sheet's wait is over and no more.
func (c Class) Dries() bool { return c != WaitOnly && c <= DryingOil }

// DampCeiling is the relative humidity, ratio, above which most coatings are not to be applied: common practice.
const DampCeiling = 0.85

// traits are the constants of a class.
type traits struct {
	wetJ, filmJ float64 // apparent activation energies, J/mol
	wetShare    float64 // share of the sheet's dry time spent in the wet stage
	deficit     bool    // the wet stage follows the vapor-pressure deficit of water
	cautionAt   float64 // humidity ratio from which blush is a caution; 0 = never
	dampAt      float64 // humidity ratio above which the air is too damp; 0 = never
	spread      float64 // factor on the spread of the dry time
}

// Enthalpies of vaporization at 298 K, J/mol, CRC Handbook of Chemistry and
// Physics. The lacquer value stands for esters and aromatics alike (n-butyl
// acetate 43.9, xylenes 42.7 to 43.4 kJ/mol).
const (
	lacquerJ       = 44000
	ethanolJ       = 42300
	heptaneJ       = 36570
	octaneJ        = 41490
	decaneJ        = 51420
	waterFilmJ     = 50000 // coalescence and diffusion; "doubles every 10 K", common practice
	oxidationQ10   = 2.0   // drying oils, common practice, no source
	blushLacquer   = 0.70  // common practice, no source
	blushAlcohol   = 0.65  // alcohol takes up water: judgement
	dampAlcohol    = 0.75  // judgement
	dampCoating    = 0.85  // ceiling for most coatings, common practice
	oilSpread      = 2.0   // judgement: oxidation times scatter widely
	evenlyDivided  = 0.5   // no published division of the sheet's time: judgement
	filmFormingC   = 10.0  // where the data sheet states no film-forming temperature
	nearDewK       = 3.0   // margin of the surface over the dew point, as used with ISO 8502-4
	coldestC       = 10.0  // below: no projection
	hottestC       = 35.0  // above: no projection
	fastestRate    = 1.5   // no credit beyond this for heat or dry air: engineering choice
	gasConstant    = 8.314462618
	kelvin         = 273.15
	referenceC     = 23.0 // standard climate of coating data sheets
	referenceRatio = 0.50
)

// traits returns the constants of the class. The rate of a class without a
// temperature effect has zero activation energy.
func (c Class) traits() traits {
	solvent := func(joule, wetShare, caution, damp float64) traits {
		return traits{wetJ: joule, filmJ: joule, wetShare: wetShare, cautionAt: caution, dampAt: damp, spread: 1}
	}
	switch c {
	case Lacquer:
		return solvent(lacquerJ, evenlyDivided, blushLacquer, dampCoating)
	case Alcohol:
		return solvent(ethanolJ, evenlyDivided, blushAlcohol, dampAlcohol)
	case WaterBorne:
		return traits{filmJ: waterFilmJ, wetShare: evenlyDivided, deficit: true, dampAt: dampCoating, spread: 1}
	case LightNaphtha:
		return solvent(heptaneJ, 1, 0, 0)
	case Naphtha:
		return solvent(octaneJ, 1, 0, 0)
	case MineralSpirit:
		return solvent(decaneJ, 1, 0, 0)
	case DryingOil:
		return traits{wetShare: evenlyDivided, spread: oilSpread}
	}
	return traits{wetShare: 1} // a stated wait has neither a temperature effect nor a spread
}
