package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// run leaps a state through steady air.
func run(t testing.TB, s *State, airC, seconds, step float64) {
	t.Helper()
	for range int(math.Round(seconds / step)) {
		require.NoError(t, s.Leap(airC, step))
	}
}

// worst is the largest error over the cells against the series, 15 to 25 °C.
func worst(s *State, shape Shape, seconds float64) float64 {
	largest, solution := 0.0, expansionOf(shape, rubberBiot)
	for i, x := range s.body.center {
		exact := 25 - 10*solution.left(rubberFourier(seconds), x/0.04)
		largest = max(largest, math.Abs(exact-s.TempC(i)))
	}
	return largest
}

// Every shape follows its series in every cell, at the temperatures of the
// table's middles, skins and mean.
func TestRubberStepScheme(t *testing.T) {
	for _, shape := range []Shape{Slab, Cylinder, Sphere} {
		body := rubber(t, shape, 0.04, 40)
		s := at(t, body, []float64{15})
		done := 0.0
		for _, seconds := range []float64{600, 1800, 3600, 7200, 14400, 28800} {
			run(t, s, 25, seconds-done, 10)
			done = seconds
			require.Less(t, worst(s, shape, seconds), 2e-3, "shape %d after %g s", shape, seconds)
			skin := 25 - 10*left(shape, rubberBiot, rubberFourier(seconds), 1)
			require.InDelta(t, skin, s.ProbeC(body.OnFace(1)), 2e-3)
		}
	}
}

func TestRubberStepMean(t *testing.T) {
	for _, r := range table(t, "rubber_step.csv") {
		if r["place"] == "mean" {
			s := at(t, rubber(t, Slab, 0.04, 40), []float64{15})
			run(t, s, 25, r.number(t, "seconds"), 10)
			require.InDelta(t, r.number(t, "temp_c"), s.LayerC(0), 1e-3, "%v", r)
		}
	}
}

// A deep body is a slab too thick to notice.
func TestDeepStepScheme(t *testing.T) {
	body := rubber(t, Slab, 0.2, 400)
	s := at(t, body, []float64{0})
	run(t, s, 1, 3600, 10)
	for i, x := range body.center {
		require.InDelta(t, deepStep(0.22, rubberAlpha, 8, 0.2-x, 3600), s.TempC(i), 1e-4)
	}
}

func TestSpaceOrder(t *testing.T) {
	var errors []float64
	for _, r := range table(t, "convergence.csv") {
		if r["scheme"] != "space" {
			continue
		}
		s := at(t, rubber(t, Slab, 0.04, int(r.number(t, "cells"))), []float64{15})
		run(t, s, 25, 3600, 2)
		got := worst(s, Slab, 3600)
		require.InEpsilon(t, r.number(t, "error"), got, r.number(t, "tolerance"), "%v", r)
		errors = append(errors, got)
	}
	requireOrder(t, 2, 0.05, errors)
}

// Cylinders and spheres are second order as well, where the table has no errors to compare.
func TestSpaceOrderOfRoundShapes(t *testing.T) {
	for _, shape := range []Shape{Cylinder, Sphere} {
		var errors []float64
		for _, cells := range []int{10, 20, 40, 80} {
			s := at(t, rubber(t, shape, 0.04, cells), []float64{15})
			run(t, s, 25, 3600, 4)
			errors = append(errors, worst(s, shape, 3600))
		}
		requireOrder(t, 2, 0.1, errors)
	}
}

// requireOrder checks the observed order of errors whose steps halve.
func requireOrder(t *testing.T, order, tolerance float64, errors []float64) {
	t.Helper()
	for i := 1; i < len(errors); i++ {
		require.InDelta(t, order, math.Log2(errors[i-1]/errors[i]), tolerance, "errors %v", errors)
	}
}

// leaping and stepping are the two schemes at any length of step.
func leaping(s *State, airC, seconds float64) { _ = s.Leap(airC, seconds) }

func stepping(s *State, airC, seconds float64) {
	s.plan.factor(s.body, seconds, pinned{})
	s.euler(airC, [mostPins]float64{})
}

// What a long step costs in the middle of 40 mm.
func TestErrorOfLongSteps(t *testing.T) {
	solution := expansionOf(Slab, rubberBiot)
	for _, r := range table(t, "steps.csv") {
		scheme := map[string]func(*State, float64, float64){"euler": stepping, "leap": leaping}[r["scheme"]]
		step, largest := r.number(t, "step_seconds"), 0.0
		s := at(t, rubber(t, Slab, 0.04, 40), []float64{15})
		for now := step; now <= 28800; now += step {
			scheme(s, 25, step)
			exact := 25 - 10*solution.left(rubberFourier(now), s.body.center[0]/0.04)
			largest = max(largest, math.Abs(exact-s.TempC(0)))
		}
		require.InEpsilon(t, r.number(t, "error_k"), largest, r.number(t, "tolerance"), "%v", r)
	}
}

// Smooth decay from 1800 to 5400 s at steps of 450, 225 and 112.5 s.
func TestTimeOrder(t *testing.T) {
	for _, c := range []struct {
		advance func(s *State, airC, seconds float64)
		order   float64
	}{{stepping, 1}, {leaping, 2}} {
		body := rubber(t, Slab, 0.04, 40)
		start := at(t, body, []float64{15})
		run(t, start, 25, 1800, 1)
		fine := at(t, body, []float64{15})
		require.NoError(t, fine.Copy(start))
		run(t, fine, 25, 3600, 1)
		var errors []float64
		for _, step := range []float64{450, 225, 112.5} {
			s := at(t, body, []float64{15})
			require.NoError(t, s.Copy(start))
			for range int(3600 / step) {
				c.advance(s, 25, step)
			}
			largest := 0.0
			for i := range body.Cells() {
				largest = max(largest, math.Abs(s.TempC(i)-fine.TempC(i)))
			}
			errors = append(errors, largest)
		}
		requireOrder(t, c.order, 0.1, errors)
	}
}

// madeUp is a solution invented beforehand: T = 20 + 3 sin(2πt/7200) cos(2.5x/L) + 2x/L.
type madeUp struct{ swing, turn, length float64 }

func (m madeUp) at(x, t float64) float64 {
	return 20 + 3*math.Sin(m.swing*t)*math.Cos(m.turn*x) + 2*x/m.length
}

// source is ρcT_t - kT_xx, W/m³.
func (m madeUp) source(x, t float64) float64 {
	return 3 * math.Cos(m.turn*x) * (1200*1300*m.swing*math.Cos(m.swing*t) + 0.22*m.turn*m.turn*math.Sin(m.swing*t))
}

// air is what the Robin faces need: T - kT_x/h on the left, T + kT_x/h on the right.
func (m madeUp) air(t float64) edges {
	slope := func(x float64) float64 { return -3*m.turn*math.Sin(m.swing*t)*math.Sin(m.turn*x) + 2/m.length }
	return edges{m.at(0, t) - 0.22*slope(0)/8, m.at(m.length, t) + 0.22*slope(m.length)/8}
}

// watts is the source of every cell.
func (m madeUp) watts(b *Body, t float64) []float64 {
	w := make([]float64, b.Cells())
	for i, x := range b.center {
		w[i] = m.source(x, t) * m.length / float64(len(w))
	}
	return w
}

// miss runs the made-up solution for an hour and returns the root mean square error.
func (m madeUp) miss(t *testing.T, cells int, step float64, leap bool) float64 {
	t.Helper()
	body := bodyOf(t, Build{Layers: []Layer{{Material: MoldRubber(), Thickness: m.length, Cells: cells}}, LeftH: 8, RightH: 8})
	s := at(t, body, []float64{20})
	for i, x := range body.center {
		s.tempC[i] = m.at(x, 0)
	}
	for n := range int(math.Round(3600 / step)) {
		now := float64(n) * step
		end := m.air(now + step)
		if leap {
			middle := now + gamma*step
			s.leapBetween(step, m.air(now), m.air(middle), end, &[3][]float64{m.watts(body, now), m.watts(body, middle), m.watts(body, now+step)})
			continue
		}
		s.plan.factor(body, step, pinned{})
		s.eulerBetween(end.left, end.right, m.watts(body, now+step), [mostPins]float64{})
	}
	sum := 0.0
	for i, x := range body.center {
		sum += (s.TempC(i) - m.at(x, 3600)) * (s.TempC(i) - m.at(x, 3600))
	}
	return math.Sqrt(sum / float64(cells))
}

func TestMadeUpSolution(t *testing.T) {
	m := madeUp{swing: 2 * math.Pi / 7200, turn: 2.5 / 0.04, length: 0.04}
	errors := map[string][]float64{}
	for _, r := range table(t, "convergence.csv") {
		cells := r.number(t, "cells")
		var got float64
		switch r["scheme"] {
		case "made up, euler":
			got = m.miss(t, int(cells), 360*(10/cells)*(10/cells), false)
		case "made up, leap":
			got = m.miss(t, int(cells), 360*(10/cells), true)
		default:
			continue
		}
		require.InEpsilon(t, r.number(t, "error"), got, r.number(t, "tolerance"), "%v", r)
		errors[r["scheme"]] = append(errors[r["scheme"]], got)
	}
	require.Len(t, errors["made up, euler"], 4)
	require.Len(t, errors["made up, leap"], 4)
	requireOrder(t, 2, 0.1, errors["made up, euler"])
	requireOrder(t, 2, 0.1, errors["made up, leap"])
}
