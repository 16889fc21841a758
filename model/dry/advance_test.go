package dry

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestIntegration(t *testing.T) {
	for _, r := range table(t, "integration.csv") {
		coat := Coat{Class: r.class(t), Ref: time.Duration(r.number(t, "ref_min")) * time.Minute}
		humidity := r.number(t, "humidity")
		minutes := r.number(t, "minutes")
		p := coat.Advance(Progress{}, still(r.number(t, "from_c"), humidity), still(r.number(t, "to_c"), humidity), 60*minutes)
		got := coat.Share(p) * r.number(t, "ref_min")
		if r["quantity"] == "total min" {
			got = minutes + minutesLeft(t, coat, p, r["stage"], still(r.number(t, "then_c"), humidity))
		}
		require.InDelta(t, r.number(t, "expected"), got, r.number(t, "tolerance"), "%v", r)
	}
}

// minutesLeft is the time for one stage or, for an empty stage, for all.
func minutesLeft(t *testing.T, c Coat, p Progress, stage string, a Air) float64 {
	t.Helper()
	all, ok := c.Remaining(p, a)
	require.True(t, ok)
	film, ok := c.Remaining(Progress{Wet: 1}, a)
	require.True(t, ok)
	switch stage {
	case "wet":
		return (all - film) / 60
	case "film":
		return film / 60
	}
	return all / 60
}

// The linear ramp 13 to 23 °C in 60 min is worth 44.784 reference minutes to a
// lacquer (quadrature). Two shortcuts must miss that by more than the tolerance.
func TestShortcutsFailTheRamp(t *testing.T) {
	const want, tolerance = 44.784, 0.005
	k := Coat{Class: Lacquer, Ref: time.Hour}.clock()
	rate := func(tempC float64) float64 { return k.pace(still(tempC, 0.5).moment()).wet }
	oneStep := 60 * (rate(13) + rate(23)) / 2
	require.InDelta(t, 46.07, oneStep, 0.01)
	require.Greater(t, math.Abs(oneStep-want), tolerance)
	meanTemperature := 60 * rate(18)
	require.InDelta(t, 44.15, meanTemperature, 0.05)
	require.Greater(t, math.Abs(meanTemperature-want), tolerance)
}

// A sinusoid of 5 K about 18 °C runs 2.17 % faster than steady 18 °C
// (quadrature); readings every ten minutes must show it.
func TestSwingRunsFasterThanItsMean(t *testing.T) {
	coat := Coat{Class: Lacquer, Ref: 100 * time.Hour}
	at := func(minute int) Air { return still(18+5*math.Sin(2*math.Pi*float64(minute)/1440), 0.5) }
	var swing Progress
	for minute := 0; minute < 1440; minute += 10 {
		swing = coat.Advance(swing, at(minute), at(minute+10), 600)
	}
	steady := coat.Advance(Progress{}, still(18, 0.5), still(18, 0.5), 86400)
	require.InDelta(t, 1.0217, coat.Share(swing)/coat.Share(steady), 0.0005)
}

// Steady air must bring the two stages to their end at the very second that
// Remaining names, however the time is cut.
func TestStagesCrossExactly(t *testing.T) {
	coat := Coat{Class: WaterBorne, Ref: time.Hour, WetShare: 0.3}
	a := still(15, 0.7)
	all, ok := coat.Remaining(Progress{}, a)
	require.True(t, ok)
	film, _ := coat.Remaining(Progress{Wet: 1}, a)
	whole := coat.Advance(Progress{}, a, a, all-1)
	require.Equal(t, 1.0, whole.Wet)
	require.InDelta(t, 1-1/film, whole.Film, 1e-12)
	require.True(t, coat.Advance(Progress{}, a, a, all*(1+1e-9)).Done())
}

// Over a ramp the crossing falls where the wet stage's own quadrature puts it.
func TestStagesCrossInsideARamp(t *testing.T) {
	coat := Coat{Class: WaterBorne, Ref: time.Hour}
	k := coat.clock()
	at := func(s float64) moment { return moment{airC: 14 + s/600, filmC: 14 + s/600, humidity: 0.6} }
	const seconds, step = 4800.0, 0.5
	wet, film := 0.0, 0.0
	for s := 0.0; s < seconds; s += step {
		p := k.pace(at(s + step/2))
		if wet < 1 {
			wet += p.wet * step / k.wetSeconds
		} else {
			film += p.film * step / k.filmSeconds
		}
	}
	got := coat.Advance(Progress{}, still(14, 0.6), still(14+seconds/600, 0.6), seconds)
	require.Equal(t, 1.0, got.Wet)
	require.InDelta(t, film, got.Film, 3e-4)
}

func TestHoldsAddNothing(t *testing.T) {
	nan := math.NaN()
	start := Progress{Wet: 0.25}
	held := []Air{still(9, 0.4), still(20, 1), {AirC: 23, SurfaceC: 12, Humidity: 0.7}, still(nan, 0.5), still(math.Inf(1), 0.5)}
	for _, a := range held {
		for c := Lacquer; c <= DryingOil; c++ {
			coat := Coat{Class: c, Ref: time.Hour}
			require.Equal(t, start, coat.Advance(start, a, a, 7200), "%v in %+v", c, a)
			_, ok := coat.Remaining(start, a)
			require.False(t, ok)
		}
	}
	water := Coat{Class: WaterBorne, Ref: time.Hour, FilmFormingC: 15}
	for _, a := range []Air{still(20, nan), still(20, 0.86), still(14, 0.5), still(20, -0.1)} {
		require.Equal(t, start, water.Advance(start, a, a, 7200))
	}
	require.Equal(t, start, Coat{Class: Lacquer}.Advance(start, still(23, 0.5), still(23, 0.5), 7200), "no reference time")
	for _, seconds := range []float64{0, -1, nan, math.Inf(1)} {
		require.Equal(t, start, Coat{Class: Lacquer, Ref: time.Hour}.Advance(start, still(23, 0.5), still(23, 0.5), seconds))
	}
}

// Only the part of an interval outside a hold counts: a ramp from 0 to 20 °C
// spends its second half above 10 °C.
func TestHoldEndsInsideAStep(t *testing.T) {
	wax := Coat{Class: WaitOnly, Ref: 10 * time.Hour}
	p := wax.Advance(Progress{}, still(0, 0.3), still(20, 0.3), 3600)
	require.InDelta(t, 0.05, p.Wet, 1e-8)
	p = wax.Advance(Progress{}, still(20, 0.3), still(0, 0.3), 3600)
	require.InDelta(t, 0.05, p.Wet, 1e-8)
}

// Above 35 °C nothing is projected, yet the hour counts like one at 35 °C.
func TestHeatIsNotCredited(t *testing.T) {
	coat := Coat{Class: Lacquer, Ref: 10 * time.Hour}
	_, ok := coat.Remaining(Progress{}, still(40, 0.3))
	require.False(t, ok)
	require.Equal(t, coat.Advance(Progress{}, still(35, 0.3), still(35, 0.3), 600),
		coat.Advance(Progress{}, still(40, 0.3), still(40, 0.3), 600))
}

func TestDoneStaysDone(t *testing.T) {
	coat := Coat{Class: Lacquer, Ref: time.Minute}
	done := coat.Advance(Progress{}, still(23, 0.5), still(23, 0.5), 61)
	require.True(t, done.Done())
	require.Equal(t, 1.0, done.Share())
	left, ok := coat.Remaining(done, still(5, 1))
	require.True(t, ok)
	require.Zero(t, left)
	require.Equal(t, done, coat.Advance(done, still(23, 0.5), still(23, 0.5), 60))
}

// anyCoat draws a coat of every class, at every place in the band.
func anyCoat(t *rapid.T) Coat {
	return Coat{
		Class:         Class(rapid.IntRange(0, int(DryingOil)).Draw(t, "class")),
		Ref:           time.Duration(rapid.Int64Range(10, 1440).Draw(t, "minutes")) * time.Minute,
		WetShare:      rapid.Float64Range(0.1, 1).Draw(t, "wet share"),
		Thickness:     rapid.Float64Range(0.5, 3).Draw(t, "thickness"),
		StandardScore: rapid.SampledFrom([]float64{-1.2816, 0, 1.2816}).Draw(t, "score"),
	}
}

// anyAir draws air of a shop, with a surface up to 8 K away.
func anyAir(t *rapid.T, label string) Air {
	airC := rapid.Float64Range(-5, 45).Draw(t, label+" air")
	return Air{
		AirC:     airC,
		SurfaceC: airC + rapid.Float64Range(-8, 8).Draw(t, label+" surface"),
		Humidity: rapid.Float64Range(0, 1).Draw(t, label+" humidity"),
	}
}

func TestProgressNeverFallsAndStaysWithinOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coat, p := anyCoat(t), Progress{}
		for range 5 {
			seconds := rapid.Float64Range(1, 20000).Draw(t, "seconds")
			next := coat.Advance(p, anyAir(t, "from"), anyAir(t, "to"), seconds)
			require.GreaterOrEqual(t, next.Wet, p.Wet)
			require.GreaterOrEqual(t, next.Film, p.Film)
			require.LessOrEqual(t, next.Wet, 1.0)
			require.LessOrEqual(t, next.Film, 1.0)
			if next.Film > 0 {
				require.Equal(t, 1.0, next.Wet, "the film stage starts when the wet one has ended")
			}
			p = next
		}
	})
}

func TestColderNeverDriesSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coat, a := anyCoat(t), anyAir(t, "warm")
		cold := a
		fall := rapid.Float64Range(0, 20).Draw(t, "fall")
		cold.SurfaceC -= fall
		if rapid.Bool().Draw(t, "air too") {
			cold.AirC -= fall
		}
		seconds := rapid.Float64Range(1, 40000).Draw(t, "seconds")
		sooner, later := coat.Advance(Progress{}, a, a, seconds), coat.Advance(Progress{}, cold, cold, seconds)
		require.LessOrEqual(t, later.Wet, sooner.Wet+1e-12)
		require.LessOrEqual(t, later.Film, sooner.Film+1e-12)
	})
}

// oneHold draws air in which only cold, or only damp and dew, can hold a coat.
func oneHold(t *rapid.T, cold bool, label string) Air {
	if cold {
		airC := rapid.Float64Range(-5, 45).Draw(t, label+" air")
		return Air{airC, airC + rapid.Float64Range(0, 8).Draw(t, label+" surface"), rapid.Float64Range(0, 0.85).Draw(t, label+" humidity")}
	}
	return still(rapid.Float64Range(11, 45).Draw(t, label+" air"), rapid.Float64Range(0, 1).Draw(t, label+" humidity"))
}

func TestSplittingGivesTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coat := anyCoat(t)
		cold := rapid.Bool().Draw(t, "cold")
		from, to := oneHold(t, cold, "from"), oneHold(t, cold, "to")
		seconds := rapid.Float64Range(1, 30000).Draw(t, "seconds")
		cut := rapid.Float64Range(0.01, 0.99).Draw(t, "cut")
		m := from.moment().toward(to.moment(), cut)
		middle := Air{AirC: m.airC, SurfaceC: m.filmC, Humidity: m.humidity}
		whole := coat.Advance(Progress{}, from, to, seconds)
		parts := coat.Advance(coat.Advance(Progress{}, from, middle, seconds*cut), middle, to, seconds*(1-cut))
		require.InDelta(t, coat.Share(whole), coat.Share(parts), 1e-3)
	})
}

// Away from every gate the trapezoid stays within 3e-4 of a far finer one.
func TestTrapezoidError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coat := anyCoat(t)
		draw := func(label string) Air {
			return still(rapid.Float64Range(12, 28).Draw(t, label), rapid.Float64Range(0.3, 0.8).Draw(t, label+" humidity"))
		}
		from, to := draw("from"), draw("to")
		seconds := rapid.Float64Range(600, 40000).Draw(t, "seconds")
		fine := Progress{}
		const parts = 1000
		for i := range parts {
			a := from.moment().toward(to.moment(), float64(i)/parts)
			b := from.moment().toward(to.moment(), float64(i+1)/parts)
			fine = coat.Advance(fine, Air{a.airC, a.filmC, a.humidity}, Air{b.airC, b.filmC, b.humidity}, seconds/parts)
		}
		require.InDelta(t, coat.Share(fine), coat.Share(coat.Advance(Progress{}, from, to, seconds)), 3e-4)
	})
}

func BenchmarkAdvance(b *testing.B) {
	coat := Coat{Class: WaterBorne, Ref: time.Hour}
	from, to := Air{15, 14, 0.7}, Air{15.01, 14.01, 0.7}
	b.Run("reading", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			coat.Advance(Progress{}, from, to, 10)
		}
	})
	b.Run("hour of a forecast", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			coat.Advance(Progress{}, Air{15, 14, 0.7}, Air{16, 15, 0.68}, 3600)
		}
	})
}

func TestAdvanceDoesNotAllocate(t *testing.T) {
	coat := Coat{Class: WaterBorne, Ref: time.Hour, StandardScore: 1.2816}
	require.Zero(t, testing.AllocsPerRun(100, func() {
		coat.Advance(Progress{}, still(8, 0.9), still(24, 0.5), 7200)
	}))
}
