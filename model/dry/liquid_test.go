package dry

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// liquids lists every liquid of the package.
func liquids() []Liquid {
	return []Liquid{Acetone(), Ethanol(), Propanol(), ButylAcetate(), Toluene(), Xylene(), Heptane(), Octane(), Decane()}
}

// named finds the liquid of a row.
func named(t *testing.T, name string) Liquid {
	t.Helper()
	for _, l := range liquids() {
		if l.Name == name {
			return l
		}
	}
	require.Fail(t, "no such liquid", name)
	return Liquid{}
}

// The rate law scales by the heat of vaporization; the Antoine curve of the same
// liquid must say nearly the same about 13 against 23 °C.
func TestLiquids(t *testing.T) {
	k := clock{inverseRefK: 1 / (referenceC + kelvin)}
	for _, r := range table(t, "liquids.csv") {
		l := named(t, r["liquid"])
		require.InDelta(t, r.number(t, "boiling_k"), l.BoilingC()+kelvin, r.number(t, "boiling_tolerance"), l.Name)
		ratio, law := l.VaporPa(13)/l.VaporPa(23), k.clausiusClapeyron(l.VaporizationJ, 13)
		require.InDelta(t, ratio, law, 0.02, l.Name)
		if want := r.number(t, "ratio_antoine"); !math.IsNaN(want) {
			require.InDelta(t, want, ratio, 0.0006, l.Name)
			require.InDelta(t, r.number(t, "ratio_enthalpy"), law, 0.0006, l.Name)
		}
		if want := r.number(t, "diffusivity_cm2s"); !math.IsNaN(want) {
			require.InEpsilon(t, want, 1e4*l.DiffusivityM2S(25), 0.01, l.Name)
		}
		if want := r.number(t, "wet_film_c"); !math.IsNaN(want) {
			require.InDelta(t, want, l.WetFilmC(23), 0.3, l.Name)
		}
	}
}

// Allyl chloride in air at 298 K and 1 bar: 0.096 cm²/s published, 0.098
// measured (Poling, Prausnitz and O'Connell, chapter 11; from memory).
func TestFullerWorkedExample(t *testing.T) {
	allyl := Liquid{MolarMassG: 76.53, Volume: 80.25}
	const barPerAtmosphere = 1.01325
	require.InDelta(t, 0.096, 1e4*barPerAtmosphere*allyl.DiffusivityM2S(298-kelvin), 0.0005)
}

func TestBlushIndex(t *testing.T) {
	for _, r := range table(t, "blush.csv") {
		got := named(t, r["liquid"]).BlushIndex(r.number(t, "air_c"), r.number(t, "humidity"))
		require.InDelta(t, r.number(t, "index"), got, r.number(t, "tolerance"), "%v", r)
	}
}

// Fast solvents blush first: the order practice knows.
func TestBlushOrder(t *testing.T) {
	alcohol, ok := Coat{Class: Alcohol}.Blush(still(23, 0.7))
	require.True(t, ok)
	lacquer, ok := Coat{Class: Lacquer}.Blush(still(23, 0.7))
	require.True(t, ok)
	require.Less(t, alcohol, lacquer)
	for _, c := range []Class{WaterBorne, LightNaphtha, Naphtha, MineralSpirit, WaitOnly, DryingOil} {
		_, ok := Coat{Class: c}.Blush(still(23, 0.7))
		require.False(t, ok)
	}
	_, ok = Coat{Class: Lacquer}.Blush(still(23, math.NaN()))
	require.False(t, ok)
}

// Vapor pressure times molar mass orders the liquids as measured rates do.
func TestRelativeEvaporation(t *testing.T) {
	yardstick := ButylAcetate().VaporPa(25) * ButylAcetate().MolarMassG
	for _, r := range table(t, "evaporation.csv") {
		l := named(t, r["liquid"])
		off := l.VaporPa(25) * l.MolarMassG / yardstick / r.number(t, "relative_rate")
		require.Less(t, math.Abs(math.Log(off)), math.Log(r.number(t, "factor")), l.Name)
	}
}
