package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Self-heating of the table: adiabatic rise 8 K, first order, 1/7200 per second.
const (
	riseK      = 8.0
	reactRate  = 1.0 / 7200
	lumpedRate = 1.0 / 3900
)

// lumpedRise is A·kr·τ/(1-kr·τ)·(exp(-kr·t) - exp(-t/τ)).
func lumpedRise(seconds float64) float64 {
	return riseK * reactRate / (lumpedRate - reactRate) * (math.Exp(-reactRate*seconds) - math.Exp(-lumpedRate*seconds))
}

// slabRise is the same for each term of the slab's series.
func slabRise(place, seconds float64) float64 {
	sum := 0.0
	for _, z := range roots(Slab, rubberBiot, 60) {
		decay := z * z * rubberAlpha / (0.04 * 0.04)
		sum += coefficient(Slab, z) * math.Cos(z*place) * riseK * reactRate / (decay - reactRate) *
			(math.Exp(-reactRate*seconds) - math.Exp(-decay*seconds))
	}
	return sum
}

func TestReactionFormulas(t *testing.T) {
	for _, r := range table(t, "reaction.csv") {
		seconds := r.number(t, "seconds")
		if r["body"] == "lumped" {
			require.InDelta(t, r.number(t, "rise_k"), lumpedRise(seconds), r.number(t, "tolerance"), "%v", r)
			continue
		}
		require.InDelta(t, r.number(t, "rise_k"), slabRise(r.number(t, "place"), seconds), r.number(t, "tolerance"), "%v", r)
	}
	require.InDelta(t, 5216.96, math.Log(lumpedRate/reactRate)/(lumpedRate-reactRate), 0.01)
}

// selfHeating is rubber that warms itself by riseK if it loses nothing.
func selfHeating(m Material, thickness float64, cells int, law Rater) Layer {
	return Layer{Material: m, Thickness: thickness, Cells: cells, Cures: true,
		Reaction: Reaction{HeatJKg: riseK * m.HeatJ, Seconds: 1 / reactRate, Law: law}}
}

func TestReactionScheme(t *testing.T) {
	conductor := MoldRubber()
	conductor.ConductivityW = 1e5 // as good as lumped: time constant ρcL/h = 3900 s at 20 mm
	for _, leap := range []bool{false, true} {
		for _, r := range table(t, "reaction.csv") {
			layer := selfHeating(MoldRubber(), 0.04, 40, nil)
			if r["body"] == "lumped" {
				layer = selfHeating(conductor, 0.02, 8, nil)
			}
			body := bodyOf(t, Build{Layers: []Layer{layer}, RightH: 8})
			s := at(t, body, []float64{20})
			seconds := r.number(t, "seconds")
			steps := math.Ceil(seconds / 10)
			for range int(steps) {
				if leap {
					require.NoError(t, s.Leap(20, seconds/steps))
				} else {
					require.NoError(t, s.Step(20, seconds/steps))
				}
			}
			got := s.TempC(0)
			if r["place"] == "1" {
				got = s.ProbeC(body.OnFace(1))
			}
			require.InDelta(t, r.number(t, "rise_k"), got-20, 6e-3, "%v", r)
		}
	}
}

func TestSteadySource(t *testing.T) {
	element := Material{Name: "element", ConductivityW: 30, DensityKg: 6000, HeatJ: 1000}
	steady := func(m Material, thickness, h, airC, watts float64) *State {
		body := bodyOf(t, Build{Layers: []Layer{{Material: m, Thickness: thickness, Cells: 400}}, RightH: h})
		s := at(t, body, []float64{airC})
		w := make([]float64, body.Cells())
		for i := range w {
			w[i] = watts * thickness / float64(len(w))
		}
		s.plan.factor(body, 1e12, pinned{})
		for range 3 {
			s.eulerBetween(airC, airC, w, [mostPins]float64{})
		}
		return s
	}
	core := func(s *State) float64 { return s.TempC(0) }
	skin := func(s *State) float64 { return s.ProbeC(s.Body().OnFace(1)) }
	start, end, rub := steady(element, 0.01, 1100, 250, 1e7), steady(element, 0.01, 1100, 250, 2e7), steady(MoldRubber(), 0.04, 8, 20, 50)
	got := map[string]float64{
		"rubber core": core(rub), "rubber skin": skin(rub),
		"element start 0 mm": core(start), "element start 10 mm": skin(start),
		"element end 0 mm": core(end), "element end 10 mm": skin(end),
	}
	for _, r := range table(t, "steady_source.csv") {
		require.Contains(t, got, r["quantity"])
		require.InDelta(t, r.number(t, "expected"), got[r["quantity"]], r.number(t, "tolerance"), "%v", r)
	}
}

// A fuel element 1.5 s after its source doubles.
func TestFuelElement(t *testing.T) {
	element := Material{Name: "element", ConductivityW: 30, DensityKg: 6000, HeatJ: 1000}
	body := bodyOf(t, Build{Layers: []Layer{{Material: element, Thickness: 0.01, Cells: 100}}, RightH: 1100})
	s := at(t, body, []float64{250})
	watts := func(q float64) []float64 {
		w := make([]float64, body.Cells())
		for i := range w {
			w[i] = q * 0.01 / 100
		}
		return w
	}
	settle := func(step float64, times int, q float64) {
		s.plan.factor(body, step, pinned{})
		for range times {
			s.eulerBetween(250, 250, watts(q), [mostPins]float64{})
		}
	}
	settle(1e9, 3, 1e7)
	settle(0.005, 300, 2e7)
	for _, r := range table(t, "fuel_element.csv") {
		mm := r.number(t, "place_mm")
		face := (s.TempC(max(0, int(mm*10)-1)) + s.TempC(min(99, int(mm*10)))) / 2
		require.InDelta(t, r.number(t, "temp_c"), face, r.number(t, "tolerance"), "%v", r)
	}
}

// A sealed shell keeps all its heat.
func TestShellWarmsItself(t *testing.T) {
	for _, r := range table(t, "shell.csv") {
		m, reaction := WetPlaster(r.number(t, "water_ratio"))
		body := bodyOf(t, Build{Layers: []Layer{{Material: m, Thickness: 0.03, Reaction: reaction}}})
		s := at(t, body, []float64{20})
		for range 300 {
			require.NoError(t, s.Step(20, 60))
		}
		require.InDelta(t, r.number(t, "rise_k"), s.TempC(0)-20, r.number(t, "tolerance"), "%v", r)
	}
}
