package model

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/cure"
	"pourward/model/dry"
	"pourward/model/forecast"
	"pourward/model/heat"
	"pourward/model/material"
)

// known is an ahead in which every path is the same course.
func known(course func(hour float64) float64, hum float64) *ahead {
	a := &ahead{ages: map[cure.Arrhenius][]float64{}, last: course(0), now: lean{temp: course(0), hum: hum}}
	a.vaporPa = math.NaN()
	a.paths = &forecast.Paths{N: pathCount, TempC: make([]float64, pathCount*forecast.Steps)}
	for i := range pathCount {
		for k := range forecast.Steps {
			a.paths.Row(i)[k] = course(float64(k))
		}
	}
	return a
}

// aRubber has its working life, 1 h, and its demold time, 8 h, at 20 °C, and an activation energy of 50 kJ/mol.
func aRubber() material.Material {
	event := func(h float64) material.Event {
		return material.Event{Ref: time.Duration(h * float64(time.Hour)), EaJ: 50e3}
	}
	return material.Material{Name: "rubber", Kind: material.Rubber, RefC: 20, WorkingLife: event(1), Demold: event(8),
		FloorC: -20, DoubtBelowC: 12, Pour: material.Window{MinC: 18, MaxC: 30}}
}

// The air falls 1 K an hour from 24 °C: it leaves the window of 18 °C after 6 h, and is below 12 °C after 12 h.
// By the equivalent age of ASTM C1074 with E/R = 50000/8.314462 = 6014 K, integrated by hand over hours
// (Simpson, 12 intervals): a working life begun at 19.12 °C after 4.88 h ends at 18.0 °C after 6 h, since
// the rate there is exp(-6014 (1/292.27 - 1/293.15)) = 0.940 and at 18 °C 0.869, mean 0.904, so that 1 h takes
// 1.106 h. Half the cure, 4 h, is done by 12 °C where it begins after 5.9 h: rates 0.881 at 18.1 °C and 0.563 at
// 12 °C, at the middle 0.708, so Simpson's mean is 0.7125 over 6.1 h: 4.35 h; begun after 6.52 h the mean of 0.847, 0.696 and
// 0.563 gives 0.699 over 5.48 h: 3.83 h. The last beginning that is warm enough is between.
func TestAPourNeedsMoreThanAMomentOfWarmth(t *testing.T) {
	a := known(func(h float64) float64 { return 24 - h }, math.NaN())
	p := prospectOf(needsOf(aRubber()), a, nil)
	at := func(hour float64) chances { return p[int(hour/pourSlot)] }
	require.Equal(t, chances{fit: 1}, at(4.75), "the working life is over at 18.1 °C")
	require.Equal(t, chances{cold: 1}, at(5), "it would still be in the cup at 17.9 °C")
	require.Zero(t, at(5.75).chill, "half cured just before 12 °C")
	require.Equal(t, 1.0, at(6.75).chill, "not half cured at 12 °C")
}

func TestWarmAirAndTheEndOfTheForecast(t *testing.T) {
	p := prospectOf(needsOf(aRubber()), known(func(h float64) float64 { return min(28+h, 31) }, math.NaN()), nil)
	require.Equal(t, 1.0, p[8].warm, "30 °C is passed at 2 h: the working life is not over by then")
	require.Zero(t, p[0].warm, "begun at 28 °C it is over in 0.57 h")
	last := prospectOf(needsOf(aRubber()), known(func(float64) float64 { return 20 }, math.NaN()), nil)
	require.Equal(t, chances{fit: 1}, last[slots-1-4*4], "at 20 °C half of 8 h is just within what is forecast")
	require.Equal(t, chances{chill: 1}, last[slots-1-4*4+1], "and beyond it nobody knows")
}

// Surfaces are from ISO 8502-4 practice: at least 3 K above the dew point. At 20 °C and 70 % that is 17.4 °C
// (training note and trade page: 14.4 + 3).
func TestAPatternUnderTheDewMarginIsNotClear(t *testing.T) {
	air := known(func(float64) float64 { return 20 }, 0.70)
	of := aRubber()
	for _, row := range []struct{ surfaceC, fit float64 }{{17.3, 0}, {17.5, 1}} {
		surf := known(func(float64) float64 { return row.surfaceC }, math.NaN())
		require.Equal(t, row.fit, prospectOf(needsOf(of), air, surf)[0].fit, "%g °C", row.surfaceC)
	}
}

func TestWarmerAirNeverMakesItTooCold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := rapid.Float64Range(5, 25).Draw(t, "base")
		swing := rapid.Float64Range(0, 8).Draw(t, "swing")
		more := rapid.Float64Range(0, 5).Draw(t, "more")
		course := func(by float64) func(float64) float64 {
			return func(h float64) float64 { return base + by + swing*math.Sin(h*math.Pi/12) }
		}
		cold, warm := prospectOf(needsOf(aRubber()), known(course(0), math.NaN()), nil), prospectOf(needsOf(aRubber()), known(course(more), math.NaN()), nil)
		for g := range cold {
			require.LessOrEqual(t, warm[g].cold, cold[g].cold)
			require.LessOrEqual(t, warm[g].chill, cold[g].chill)
		}
	})
}

// A pattern of steel, 10 mm, warmed on one side follows as one lump: margin after tau ln((Ta-T0)/(Ta-Td-3)).
// From 5 °C in air of 23 °C at 50 % that is 0.815 tau (closed form with the dew point of IAPWS-IF97).
func TestTheDewMarginOfAWarmedPattern(t *testing.T) {
	body, err := heat.NewBody(heat.Build{Layers: []heat.Layer{{Material: heat.Steel(), Thickness: 0.010}}, RightH: stillAirH})
	require.NoError(t, err)
	state, err := heat.NewState(body, []float64{5})
	require.NoError(t, err)
	course := make([]dry.Air, 25)
	for k := range course {
		course[k] = dry.Air{AirC: 23, SurfaceC: state.TempC(body.Cells() - 1)}
		require.NoError(t, state.Leap(23, 3600))
	}
	hours, ok := free(course, 12.03)
	require.True(t, ok)
	require.InDelta(t, 0.815*body.LagSeconds()/3600, hours, 0.08, "an hour apart and straight between")
	_, ok = free(course, 20.5)
	require.False(t, ok, "air less than 3 K above its dew point frees nothing")
}

func BenchmarkProspect(b *testing.B) {
	b.ReportAllocs()
	a, n := known(func(h float64) float64 { return 20 + 4*math.Sin(h) }, 0.5), needsOf(aRubber())
	for range b.N {
		prospectOf(n, a, nil)
	}
}
