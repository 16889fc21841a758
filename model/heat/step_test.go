package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyBody draws a body of one to four layers of any shape; the last may be insulated.
func anyBody(t *rapid.T) *Body {
	materials := Materials()
	build := Build{
		Shape:  Shape(rapid.IntRange(0, 2).Draw(t, "shape")),
		LeftH:  rapid.SampledFrom([]float64{0, 5, 12}).Draw(t, "left h"),
		RightH: rapid.SampledFrom([]float64{0, 5, 12}).Draw(t, "right h"),
	}
	build.InnerRadius = rapid.SampledFrom([]float64{0, 0.02}).Draw(t, "inner radius")
	for range rapid.IntRange(1, 4).Draw(t, "layers") {
		m := materials[rapid.IntRange(0, len(materials)-1).Draw(t, "material")]
		l := Layer{Material: m, Thickness: rapid.Float64Range(0.002, 0.06).Draw(t, "thickness"), Cures: rapid.Bool().Draw(t, "cures")}
		if rapid.Bool().Draw(t, "reacts") {
			l.Reaction = Reaction{HeatJKg: 10000, Seconds: 5000, Law: arrhenius(40000)}
		}
		build.Layers = append(build.Layers, l)
	}
	body, err := NewBody(build)
	require.NoError(t, err)
	return body
}

// started draws a start temperature for every layer.
func started(t *rapid.T, body *Body) *State {
	layerC := make([]float64, len(body.build.Layers))
	for i := range layerC {
		layerC[i] = rapid.Float64Range(0, 35).Draw(t, "start")
	}
	s, err := NewState(body, layerC)
	require.NoError(t, err)
	return s
}

// held is the heat in a body, J over 0 °C, and released what its layers gave off.
func held(s *State) (stored, released float64) {
	for i, c := range s.body.heat {
		l := s.body.build.Layers[s.body.layerOf(i)]
		stored += c * s.tempC[i]
		released += c / l.Material.HeatJ * l.Reaction.HeatJKg * s.conversion[i]
	}
	return stored, released
}

// Whatever the body, what it stores is what came in through its faces and out
// of its own reaction.
func TestEnergyBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		body := anyBody(t)
		s := started(t, body)
		last := body.Cells()
		in := func(airC float64) float64 {
			return body.link[0]*(airC-s.TempC(0)) + body.link[last]*(airC-s.TempC(last-1))
		}
		before, releasedBefore := held(s)
		flow, scale := 0.0, 1.0
		airC := rapid.Float64Range(-5, 40).Draw(t, "air")
		for range 20 {
			seconds := rapid.Float64Range(1, 60).Draw(t, "seconds")
			if rapid.Bool().Draw(t, "leap") && !math.IsNaN(s.airC) {
				start, old := in(s.airC), s.airC
				middle := middleFlow(t, s, seconds, old+gamma*(airC-old))
				require.NoError(t, s.Leap(airC, seconds))
				flow += seconds * (newest*gamma/2*(start+middle) + alpha*in(airC))
			} else {
				require.NoError(t, s.Step(airC, seconds))
				flow += seconds * in(airC)
			}
			airC += rapid.Float64Range(-2, 2).Draw(t, "drift")
		}
		after, releasedAfter := held(s)
		for i, c := range body.heat {
			scale += c * math.Abs(s.TempC(i))
		}
		require.InDelta(t, 0, (after-before-flow-(releasedAfter-releasedBefore))/scale, 1e-9)
	})
}

// middleFlow is the heat flow at the middle of a leap: that of a trapezoidal step of
// gamma with the leap's constant heat of reaction.
func middleFlow(t *rapid.T, s *State, seconds, middleC float64) float64 {
	twin, err := NewState(s.body, make([]float64, len(s.body.build.Layers)))
	require.NoError(t, err)
	require.NoError(t, twin.Copy(s))
	b, n := twin.body, len(twin.tempC)
	twin.plan.factor(b, alpha*seconds, pinned{})
	clear(twin.heat)
	if b.reacts() {
		b.react(twin.heat, twin.conversion, twin.tempC, seconds)
	}
	b.trapezoid(twin.rhs, twin.tempC, twin.plan.own, edges{s.airC, s.airC})
	b.surround(twin.rhs, &twin.plan.pins, middleC, middleC)
	for i := range n {
		twin.rhs[i] += 2 * twin.heat[i]
	}
	twin.plan.solve(twin.rhs)
	return b.link[0]*(middleC-twin.rhs[0]) + b.link[n]*(middleC-twin.rhs[n-1])
}

// Backward Euler never leaves the range that start and air span, whatever the
// step: no overshoot from a noisy probe.
func TestStepStaysWithinItsSurroundings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		body := anyBody(t)
		for i := range body.build.Layers {
			body.build.Layers[i].Reaction = Reaction{}
		}
		s := started(t, body)
		low, high := math.Inf(1), math.Inf(-1)
		for i := range body.Cells() {
			low, high = min(low, s.TempC(i)), max(high, s.TempC(i))
		}
		for range 10 {
			airC := rapid.Float64Range(-10, 45).Draw(t, "air")
			low, high = min(low, airC), max(high, airC)
			require.NoError(t, s.Step(airC, rapid.Float64Range(0.1, 5000).Draw(t, "seconds")))
			for i := range body.Cells() {
				require.GreaterOrEqual(t, s.TempC(i), low-1e-9)
				require.LessOrEqual(t, s.TempC(i), high+1e-9)
			}
		}
	})
}

// The same readings give the same bits, and a copy goes on as the original would.
func TestStepsAreDeterministic(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	body := rubber(t, Slab, 0.04, 0)
	a, b := at(t, body, []float64{18}, rates), at(t, body, []float64{5}, rates)
	air := func(n int) float64 { return 18 + 3*math.Sin(float64(n)/200) }
	for n := range 500 {
		require.NoError(t, a.Step(air(n), 10))
	}
	require.NoError(t, b.Copy(a))
	for n := range 500 {
		require.NoError(t, a.Step(air(n), 10))
		require.NoError(t, b.Step(air(n), 10))
	}
	require.Equal(t, a.tempC, b.tempC)
	require.Equal(t, a.ages, b.ages)
	require.Equal(t, a.rims, b.rims)
	require.Error(t, b.Copy(at(t, rubber(t, Slab, 0.04, 0), []float64{5}, rates)))
}

// A gap is bridged by the same linear air that the readings would have shown.
func TestGapIsBridged(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	body := plasterUnderRubber(t, 0)
	gap, read := at(t, body, []float64{10, 20}, rates), at(t, body, []float64{10, 20}, rates)
	require.NoError(t, gap.Step(20, 10))
	require.NoError(t, read.Step(20, 10))
	require.NoError(t, gap.Step(14, 7200))
	for n := 1; n <= 720; n++ {
		require.NoError(t, read.Step(20-6*float64(n)/720, 10))
	}
	for i := range body.Cells() {
		require.InDelta(t, read.TempC(i), gap.TempC(i), 0.02)
	}
	slowGap, _ := gap.Slowest(0)
	slowRead, _ := read.Slowest(0)
	require.InEpsilon(t, slowRead.AgeSeconds, slowGap.AgeSeconds, 1e-3)
}

func TestStepRefusesWhatIsNoNumber(t *testing.T) {
	s := at(t, rubber(t, Slab, 0.04, 0), []float64{18}, tabulated(t, arrhenius(50000)))
	require.NoError(t, s.Step(20, 10))
	before := append([]float64(nil), s.tempC...)
	for _, bad := range [][2]float64{{math.NaN(), 10}, {math.Inf(1), 10}, {20, math.NaN()}, {20, -1}, {20, math.Inf(1)}} {
		require.Error(t, s.Step(bad[0], bad[1]))
		require.Error(t, s.Leap(bad[0], bad[1]))
	}
	require.NoError(t, s.Step(25, 0))
	require.NoError(t, s.Leap(25, 0))
	require.Equal(t, before, s.tempC)
}

func TestStepsDoNotAllocate(t *testing.T) {
	body := plasterUnderRubber(t, 20)
	s := at(t, body, []float64{10, 20}, tabulated(t, arrhenius(50000)))
	probe := body.OnFace(1)
	require.Zero(t, testing.AllocsPerRun(100, func() {
		_ = s.Step(20, 10)
		_ = s.Step(21, 11, Measured{probe, 15})
		_ = s.Step(20, 500)
		_ = s.Leap(19, 600)
		_, _ = s.Slowest(0)
	}))
	scratch := at(t, body, []float64{10, 20}, s.laws...)
	forecast := make([]float64, 30)
	require.Zero(t, testing.AllocsPerRun(20, func() {
		_ = scratch.Copy(s)
		_, _ = scratch.Finish(0, 1e9, forecast, 600)
	}))
}

// The mold of the goal: 20 cells of plaster under 20 of rubber, a reading into
// each with the cure of every rubber cell, under a microsecond.
func BenchmarkMold(b *testing.B) {
	body := bodyOf(b, Build{Layers: []Layer{
		{Material: Plaster(), Thickness: 0.05, Cells: 20},
		{Material: MoldRubber(), Thickness: 0.04, Cells: 20, Cures: true},
	}, RightH: DefaultH})
	rates := tabulated(b, arrhenius(50000))
	probe := body.OnFace(1)
	b.Run("path of 72 h", func(b *testing.B) {
		s, from := at(b, body, []float64{10, 20}, rates), at(b, body, []float64{10, 20}, rates)
		forecast := make([]float64, 432)
		b.ReportAllocs()
		for b.Loop() {
			_ = s.Copy(from)
			_, _ = s.Finish(0, 1e9, forecast, 600)
		}
	})
	for name, step := range map[string]func(s *State, n int){
		"reading, even":         func(s *State, n int) { _ = s.Step(20+float64(n%7)*0.01, 10) },
		"reading, uneven":       func(s *State, n int) { _ = s.Step(20+float64(n%7)*0.01, 10+float64(n&1)*0.01) },
		"reading, pattern face": func(s *State, n int) { _ = s.Step(20+float64(n%7)*0.01, 10, Measured{probe, 15}) },
		"forecast":              func(s *State, n int) { _ = s.Leap(20+float64(n%7)*0.01, 600) },
	} {
		b.Run(name, func(b *testing.B) {
			s := at(b, body, []float64{10, 20}, rates)
			b.ReportAllocs()
			for n := 0; b.Loop(); n++ {
				step(s, n)
			}
		})
	}
}
