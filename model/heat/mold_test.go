package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

const cured = 16 * 3600.0 // demold age of the table, s at 23 °C

// hoursToCure steps a mold every ten seconds until its slowest part is cured.
func hoursToCure(t *testing.T, s *State, air func(hours float64) float64) (hours float64, slowest Slowest) {
	t.Helper()
	const step = 10.0
	for n := 1; ; n++ {
		hours = float64(n) * step / 3600
		require.Less(t, hours, 100.0)
		require.NoError(t, s.Step(air(hours), step))
		slowest, ok := s.Slowest(0)
		require.True(t, ok)
		if slowest.AgeSeconds >= cured {
			return hours, slowest
		}
	}
}

// material finds one by name; "rubber", "slow" and "fast" are short for the three rubbers.
func material(t *testing.T, name string) Material {
	t.Helper()
	switch name {
	case "rubber":
		return MoldRubber()
	case "slow":
		return SlowRubber()
	case "fast":
		return FastRubber()
	}
	for _, m := range Materials() {
		if m.Name == name {
			return m
		}
	}
	require.Fail(t, "no such material", name)
	return Material{}
}

// What the pattern's cold is worth, against a like scheme written apart from
// this one: 2 to 7 h of 20.
func TestMolds(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	for _, r := range table(t, "molds.csv") {
		if r["pattern"] == "" {
			require.InDelta(t, r.number(t, "hours"), cured/rates.Rate(r.number(t, "air_c"))/3600, r.number(t, "tolerance"))
			continue
		}
		h := map[string]float64{"fast": DraftH, "slow": CoveredH}[r["rubber"]]
		if h == 0 {
			h = DefaultH
		}
		body := bodyOf(t, Build{Layers: []Layer{
			{Material: material(t, r["pattern"]), Thickness: r.number(t, "pattern_mm") / 1000},
			{Material: material(t, r["rubber"]), Thickness: r.number(t, "rubber_mm") / 1000, Cures: true},
		}, RightH: h})
		air := r.number(t, "air_c")
		hours, slowest := hoursToCure(t, at(t, body, []float64{r.number(t, "pattern_c"), air}, rates), func(float64) float64 { return air })
		require.Zero(t, slowest.DepthM, "a cold pattern holds its own face back")
		require.Equal(t, 1, slowest.Layer)
		require.InDelta(t, r.number(t, "hours"), hours, r.number(t, "tolerance"), "%v", r)
	}
}

// The heating goes off after six hours: 26.27 h where the air alone says 28.49,
// and it is the skin that is late (like scheme written apart from this one).
func TestSlowestIsTheSkinInACoolingShop(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	air := func(hours float64) float64 {
		if hours < 6 {
			return 20
		}
		return 8 + 12*math.Exp(-(hours-6)/10)
	}
	s := at(t, rubber(t, Slab, 0.04, 0), []float64{20}, rates)
	hours, slowest := hoursToCure(t, s, air)
	require.InDelta(t, 26.27, hours, 0.06)
	require.InDelta(t, 0.04, slowest.DepthM, 1e-12)
}

// A forecast in steps of ten minutes ends when readings every ten seconds would
// have ended, to a few minutes in a day.
func TestFinishAgreesWithReadings(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	air := func(hours float64) float64 { return 17 + 4*math.Sin(2*math.Pi*hours/24) }
	body := bodyOf(t, Build{Layers: []Layer{
		{Material: Plaster(), Thickness: 0.05},
		{Material: MoldRubber(), Thickness: 0.04, Cures: true},
	}, RightH: DefaultH})
	start := at(t, body, []float64{10, 20}, rates)
	require.NoError(t, start.Step(air(0), 1))
	forecast := make([]float64, 432)
	for i := range forecast {
		forecast[i] = air(float64(i+1) / 6)
	}
	scratch := at(t, body, []float64{0, 0}, rates)
	require.NoError(t, scratch.Copy(start))
	took, ok := scratch.Finish(0, cured, forecast, 600)
	require.True(t, ok)
	hours, _ := hoursToCure(t, start, air)
	require.InDelta(t, hours, took/3600, 0.01)

	took, ok = scratch.Finish(0, cured, forecast, 600)
	require.True(t, ok)
	require.Zero(t, took, "it is finished already")
	for _, c := range []struct {
		law  int
		airC []float64
		step float64
	}{{0, forecast[:3], 600}, {0, []float64{math.NaN()}, 600}, {1, forecast, 600}, {0, forecast, 0}} {
		_, ok = scratch.Finish(c.law, 1e9, c.airC, c.step)
		require.False(t, ok)
	}
}
