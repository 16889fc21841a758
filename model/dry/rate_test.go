package dry

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/air"
)

// uncapped is the dry time relative to the reference air without the ceiling.
func uncapped(c Class, tempC, humidity float64) (wet, total float64) {
	k := Coat{Class: c, Ref: time.Hour}.clock()
	m := still(tempC, humidity).moment()
	wetRate, filmRate := k.rates(m, (1-humidity)*air.SaturationPa(tempC))
	return 1 / wetRate, (k.wetSeconds/wetRate + k.filmSeconds/filmRate) / 3600
}

func TestMultipliers(t *testing.T) {
	for _, r := range table(t, "multipliers.csv") {
		wet, total := uncapped(r.class(t), r.number(t, "temp_c"), r.number(t, "humidity"))
		got := total
		if r["stage"] == "wet" {
			got = wet
		}
		require.InDelta(t, r.number(t, "factor"), got, r.number(t, "tolerance"), "%v", r)
	}
}

func TestRatesAreOneAtTheReference(t *testing.T) {
	for c := Lacquer; c <= DryingOil; c++ {
		for _, ref := range []Air{still(23, 0.5), still(25, 0.5), still(20, 0.65)} {
			coat := Coat{Class: c, Ref: time.Hour, RefC: ref.AirC, RefHumidity: ref.Humidity}
			left, ok := coat.Remaining(Progress{}, ref)
			require.True(t, ok)
			require.InDelta(t, 3600, left, 1e-9, "%v at its own reference", c)
		}
	}
}

func TestDryingOilDoublesEveryTenKelvin(t *testing.T) { // common practice, no source
	oil := Coat{Class: DryingOil, Ref: 24 * time.Hour}
	at23, _ := oil.Remaining(Progress{}, still(23, 0.5))
	at13, _ := oil.Remaining(Progress{}, still(13, 0.5))
	require.InDelta(t, 2, at13/at23, 1e-12)
}

func TestWaitIsWallClock(t *testing.T) {
	wax := Coat{Class: WaitOnly, Ref: 20 * time.Minute}
	require.False(t, WaitOnly.Dries())
	for _, tempC := range []float64{11, 23, 34} {
		left, ok := wax.Remaining(Progress{}, still(tempC, 0.5))
		require.True(t, ok)
		require.InDelta(t, 1200, left, 1e-9)
	}
}

func TestNoCreditBeyondTheCeiling(t *testing.T) {
	for _, c := range []Class{Lacquer, WaterBorne, MineralSpirit} {
		left, ok := Coat{Class: c, Ref: time.Hour}.Remaining(Progress{}, still(35, 0.05))
		require.True(t, ok)
		require.InDelta(t, 3600/fastestRate, left, 1e-9)
	}
}

func TestThicknessLengthensTheStages(t *testing.T) { // L in the wet stage, L² in the film stage: theory
	double := Coat{Class: WaterBorne, Ref: time.Hour, Thickness: 2, WetShare: 0.4}
	left, _ := double.Remaining(Progress{}, still(23, 0.5))
	require.InDelta(t, 3600*(0.4*2+0.6*4), left, 1e-6)
	left, _ = double.Remaining(Progress{Wet: 1}, still(23, 0.5))
	require.InDelta(t, 3600*0.6*4, left, 1e-6)
}

func TestLeftOutFieldsTakeTheirDefaults(t *testing.T) {
	nan := math.NaN()
	bare := Coat{Class: WaterBorne, Ref: time.Hour}
	stated := Coat{Class: WaterBorne, Ref: time.Hour, RefC: 23, RefHumidity: 0.5, WetShare: 0.5, FilmFormingC: 10, Thickness: 1}
	odd := Coat{Class: WaterBorne, Ref: time.Hour, RefC: nan, RefHumidity: 1, WetShare: nan, FilmFormingC: nan, Thickness: -1}
	for _, a := range []Air{still(15, 0.8), still(12, 0.3), still(30, 0.6)} {
		want, ok := stated.Remaining(Progress{}, a)
		require.True(t, ok)
		for _, c := range []Coat{bare, odd} {
			got, _ := c.Remaining(Progress{}, a)
			require.Equal(t, want, got)
		}
	}
}
