package cure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyLaw draws one of the package's laws with ordinary constants and a floor in or below the drawn temperatures.
func anyLaw(t *rapid.T) Law {
	floor := rapid.SampledFrom([]float64{math.Inf(-1), -20, 0, 10, 18}).Draw(t, "floorC")
	ref := rapid.SampledFrom([]float64{20, 23, 25}).Draw(t, "refC")
	return rapid.SampledFrom([]Law{
		Arrhenius{EaJ: rapid.Float64Range(0, 150e3).Draw(t, "eaJ"), RefC: ref, FloorC: floor},
		NurseSaul{DatumC: max(floor, -30), RefC: ref},
		Q10{Factor: rapid.Float64Range(1, 4).Draw(t, "factor"), RefC: ref, FloorC: floor},
		HansenPedersen{FloorC: floor},
		Eurocode{},
	}).Draw(t, "law")
}

func shopTempC(t *rapid.T, name string) float64 {
	return rapid.Float64Range(-30, 80).Draw(t, name)
}

func TestSplittingAnIntervalKeepsTheTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law, from, to := anyLaw(t), shopTempC(t, "from"), shopTempC(t, "to")
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		middle := from + share*(to-from)
		whole := law.Age(from, to, 3600)
		parts := law.Age(from, middle, 3600*share) + law.Age(middle, to, 3600*(1-share))
		// A floor moves with the rounding of the middle temperature, so the tolerance has an absolute part too.
		require.InDelta(t, whole, parts, 1e-12*whole+1e-11)
	})
}

func TestAgeIsPositiveAndBetweenItsEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law, from, to := anyLaw(t), shopTempC(t, "from"), shopTempC(t, "to")
		seconds := rapid.Float64Range(-10, 1e6).Draw(t, "seconds")
		age := law.Age(from, to, seconds)
		if seconds <= 0 {
			require.Zero(t, age)
			return
		}
		slow, fast := law.Rate(min(from, to)), law.Rate(max(from, to))
		require.GreaterOrEqual(t, age, slow*seconds*(1-1e-12))
		require.LessOrEqual(t, age, fast*seconds*(1+1e-12))
		require.Equal(t, math.Float64bits(age), math.Float64bits(law.Age(from, to, seconds)), "deterministic")
	})
}

func TestColderIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law, from, to := anyLaw(t), shopTempC(t, "from"), shopTempC(t, "to")
		colder := rapid.Float64Range(0, 20).Draw(t, "colder")
		require.LessOrEqual(t, law.Age(from-colder, to-colder, 100), law.Age(from, to, 100)*(1+1e-12))
	})
}

func TestOneWayOrTheOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law, from, to := anyLaw(t), shopTempC(t, "from"), shopTempC(t, "to")
		require.InEpsilon(t, 1+law.Age(from, to, 100), 1+law.Age(to, from, 100), 1e-13)
	})
}

func TestFloorCutsALinearPieceExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		floor := rapid.Float64Range(-5, 18).Draw(t, "floorC")
		free := Arrhenius{EaJ: 50e3, RefC: 23, FloorC: math.Inf(-1)}
		held := Arrhenius{EaJ: 50e3, RefC: 23, FloorC: floor}
		low := floor - rapid.Float64Range(0.01, 20).Draw(t, "below")
		high := floor + rapid.Float64Range(0.01, 20).Draw(t, "over")
		seconds := 3600 * (high - floor) / (high - low)
		require.InEpsilon(t, free.Age(floor, high, seconds), held.Age(low, high, 3600), 1e-12)
		require.Zero(t, held.Age(low, floor-1e-9, 3600))
		require.Positive(t, held.Rate(floor))
	})
}

func TestOutsideItsDomainALawSaysNaN(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := Arrhenius{EaJ: 50e3, RefC: 23, FloorC: 5}
	for name, age := range map[string]float64{
		"temperature":    good.Age(nan, 20, 1),
		"seconds":        good.Age(20, 20, nan),
		"energy":         Arrhenius{EaJ: nan, RefC: 23}.Age(10, 40, 1),
		"huge energy":    Arrhenius{EaJ: 2e6, RefC: 23}.Age(10, 40, 1),
		"endless energy": Arrhenius{EaJ: inf, RefC: 23}.Age(10, 40, 1),
		"reference":      Arrhenius{EaJ: 50e3, RefC: -273.15}.Age(10, 40, 1),
		"far reference":  Arrhenius{EaJ: 50e3, RefC: 1e300}.Age(10, 40, 1),
		"floor":          Arrhenius{EaJ: 50e3, RefC: 23, FloorC: nan}.Age(10, 40, 1),
		"datum":          NurseSaul{DatumC: 20, RefC: 20}.Age(10, 40, 1),
		"factor":         Q10{Factor: 0, RefC: 23}.Age(10, 40, 1),
		"hansen":         HansenPedersen{}.Age(nan, 40, 1),
		"mean kinetic":   MeanKineticC(50e3, nil),
		"lengths":        MeanKineticStepC(50e3, []float64{0, 1}, []float64{20}),
		"order":          MeanKineticTrapezoidC(50e3, []float64{1, 0}, []float64{20, 20}),
	} {
		require.True(t, math.IsNaN(age), "%s: %g", name, age)
	}
	require.Zero(t, good.Age(-300, -250, 1))
	require.Zero(t, Arrhenius{EaJ: 50e3, RefC: 23, FloorC: inf}.Age(10, 40, 1))
	require.False(t, math.IsInf(good.Age(20, 1e300, 1), 0))
}

func TestMeanKineticTemperatureIsAboveTheMean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temps := rapid.SliceOfN(rapid.Float64Range(-20, 60), 1, 50).Draw(t, "temps")
		ea := rapid.Float64Range(10e3, 150e3).Draw(t, "eaJ")
		var mean float64
		for _, tempC := range temps {
			mean += tempC / float64(len(temps))
		}
		require.GreaterOrEqual(t, MeanKineticC(ea, temps), mean-1e-9)
	})
}

func TestMeanKineticTemperatureOfAHistory(t *testing.T) {
	law := Arrhenius{EaJ: 83144, RefC: 23, FloorC: math.Inf(-1)}
	rapid.Check(t, func(t *rapid.T) {
		tempC := shopTempC(t, "temp")
		require.InDelta(t, tempC, law.TempC(law.Age(tempC, tempC, 60)/60), 1e-9)
	})
	require.True(t, math.IsNaN(law.TempC(0)))
}

func TestOrderNMeetsFirstOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kt := rapid.Float64Range(0, 20).Draw(t, "kt")
		require.InDelta(t, OrderN(1, kt), OrderN(1+1e-9, kt), 1e-8)
		n := rapid.Float64Range(0, 5).Draw(t, "n")
		require.LessOrEqual(t, OrderN(n, kt), OrderN(n, kt+0.1))
	})
	require.InDelta(t, 1.0, OrderN(0.5, 3), 0, "an order below one completes")
	require.True(t, math.IsNaN(GelConversion(2)))
}

func TestEaFromTwoRefusesNonsense(t *testing.T) {
	good := Timing{TempC: 23, Seconds: 60}
	for _, other := range []Timing{{23, 30}, {33, 0}, {33, -1}, {math.NaN(), 30}, {33, math.NaN()}} {
		_, err := EaFromTwo(good, other, 0.1)
		require.Error(t, err, "%v", other)
	}
	_, err := EaFromTwo(good, Timing{33, 30}, 1)
	require.ErrorContains(t, err, "relative error")
}

func TestASwingingDayIsFasterThanItsMean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law := Arrhenius{EaJ: rapid.Float64Range(10e3, 120e3).Draw(t, "eaJ"), RefC: 23, FloorC: math.Inf(-1)}
		mean := rapid.Float64Range(0, 35).Draw(t, "meanC")
		small, large := rapid.Float64Range(0, 5).Draw(t, "small"), rapid.Float64Range(5, 15).Draw(t, "large")
		require.GreaterOrEqual(t, SwingGain(law, mean, small), 1-1e-12)
		require.GreaterOrEqual(t, SwingGain(law, mean, large), SwingGain(law, mean, small))
	})
	require.Less(t, SwingGain(Arrhenius{EaJ: 50e3, RefC: 23, FloorC: 10}, 11, 8), 1.0, "a floor takes the cold half away")
}
