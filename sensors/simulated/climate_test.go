package simulated_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/sensors"
	"pourward/sensors/simulated"
)

func prague(t testing.TB) *time.Location {
	zone, err := time.LoadLocation("Europe/Prague")
	require.NoError(t, err)
	return zone
}

// climate returns an invented winter that begins on a Monday morning.
func climate(t testing.TB, seed uint64) (*simulated.Climate, time.Time) {
	begin := time.Date(2026, 1, 12, 7, 0, 0, 0, prague(t))
	return simulated.NewClimate(seed, begin, begin.Location()), begin
}

func TestDayInTheAnnex(t *testing.T) {
	for seed := range uint64(3) {
		c, begin := climate(t, seed)
		for m := range 7 * 24 * 60 {
			at := begin.Add(time.Duration(m) * time.Minute)
			out, air, pattern, rh := c.OutdoorC(at), c.AnnexC(at), c.PatternC(at), c.Humidity(at)
			require.True(t, out >= 1.9 && out <= 6.1, "outdoors %g °C", out)
			require.True(t, air >= 5 && air <= 21.1, "annex %g °C", air)
			require.True(t, pattern >= 5 && pattern <= 21.1, "pattern %g °C", pattern)
			require.True(t, rh > 0.2 && rh < 0.97, "humidity %g", rh)
			switch h := at.In(begin.Location()).Hour(); {
			case h >= 11 && h < 17:
				require.InDelta(t, 20.5, air, 0.6, at)
			case h >= 7 && h < 8:
				require.InDelta(t, 7, air, 1.2, at)
			}
		}
	}
}

// Left alone the annex falls towards its resting temperature with a time constant of 5 h, and the
// pattern follows the air with one of an hour.
func TestTimeConstants(t *testing.T) {
	c, begin := climate(t, 1)
	evening := time.Date(2026, 1, 13, 18, 0, 0, 0, begin.Location())
	rest := func(at time.Time) float64 { return c.OutdoorC(at) + 3 }
	for m := range 12 * 60 {
		at := evening.Add(time.Duration(m) * time.Minute)
		next := at.Add(time.Minute)
		fall := (c.AnnexC(at) - c.AnnexC(next)) / (c.AnnexC(at) - rest(next))
		require.InDelta(t, 1.0/300, fall, 1e-4)
		follow := (c.PatternC(at) - c.PatternC(next)) / (c.PatternC(at) - c.AnnexC(next))
		require.InDelta(t, 1.0/60, follow, 1e-3)
	}
}

// With no source and no leak the vapor stays and the relative humidity follows the saturation pressure
// alone; over a quarter of an hour that is nearly so.
func TestHumidityRisesAsTheAirCools(t *testing.T) {
	c, begin := climate(t, 1)
	evening := time.Date(2026, 1, 13, 18, 0, 0, 0, begin.Location())
	for q := range 24 {
		a := evening.Add(time.Duration(q) * 15 * time.Minute)
		b := a.Add(15 * time.Minute)
		require.Greater(t, c.Humidity(b), c.Humidity(a))
		vapor := func(at time.Time) float64 { return c.Humidity(at) * magnus(c.AnnexC(at)) }
		require.InEpsilon(t, vapor(a), vapor(b), 0.04)
	}
}

// magnus is the saturation pressure in hPa in the form of Sonntag (1990), whose constants the guide
// WMO-No. 8 uses.
func magnus(tempC float64) float64 { return 6.112 * math.Exp(17.62*tempC/(243.12+tempC)) }

// A value depends on the seed and the instant alone, not on what was asked before.
func TestClimateIsAPureFunction(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		seed := rapid.Uint64().Draw(rt, "seed")
		a, begin := climate(t, seed)
		b, _ := climate(t, seed)
		for range rapid.IntRange(1, 5).Draw(rt, "n") {
			b.AnnexC(begin.Add(time.Duration(rapid.IntRange(-200, 60).Draw(rt, "h")) * time.Hour))
		}
		at := begin.Add(time.Duration(rapid.IntRange(-1000, 3000).Draw(rt, "min")) * time.Minute)
		require.Equal(rt, a.AnnexC(at), b.AnnexC(at))
		require.Equal(rt, a.Humidity(at), b.Humidity(at))
		require.Equal(rt, a.PatternC(at), b.PatternC(at))
		require.Equal(rt, a.Bench(stopped(at))(), b.Bench(stopped(at))())
		require.Equal(rt, a.Pattern(stopped(at))(), b.Pattern(stopped(at))())
	})
}

func TestSeedsDiffer(t *testing.T) {
	a, begin := climate(t, 1)
	b, _ := climate(t, 2)
	at := begin.Add(40 * time.Hour)
	require.NotEqual(t, a.AnnexC(at), b.AnnexC(at))
	require.NotEqual(t, a.Bench(stopped(at))(), b.Bench(stopped(at))())
}

// The noise of the probes has the spread that the package says, 0.03 °C.
func TestNoise(t *testing.T) {
	c, begin := climate(t, 1)
	sum, n := 0.0, 5000
	for i := range n {
		at := begin.Add(time.Duration(i) * 7 * time.Second)
		d := c.Bench(stopped(at))().TempC - c.AnnexC(at)
		sum += d * d
	}
	require.InDelta(t, 0.03, math.Sqrt(sum/float64(n)), 0.002)
}

// stopped is a clock that shows one instant.
func stopped(at time.Time) sensors.Clock { return stoppedClock{at: at} }

type stoppedClock struct {
	sensors.RealClock
	at time.Time
}

func (c stoppedClock) Now() time.Time { return c.at }

func BenchmarkYear(b *testing.B) {
	b.ReportAllocs()
	for range b.N {
		c, begin := climate(b, 1)
		c.AnnexC(begin.AddDate(1, 0, 0))
	}
}
