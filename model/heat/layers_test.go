package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// twoLayers is the exact expansion for 30 mm of plaster on an adiabatic back
// under 20 mm of rubber, in eigenfunctions that join at the interface.
type twoLayers struct{}

const (
	plasterM = 0.03
	rubberM  = 0.02
)

// mode is the eigenfunction of decay rate and its slope times conductivity at x.
func (twoLayers) mode(decay, x float64) (value, flux float64) {
	plaster, rub := Plaster(), MoldRubber()
	m1 := math.Sqrt(decay / plaster.DiffusivityM2S())
	if x <= plasterM {
		return math.Cos(m1 * x), -plaster.ConductivityW * m1 * math.Sin(m1*x)
	}
	m2 := math.Sqrt(decay / rub.DiffusivityM2S())
	a := math.Cos(m1 * plasterM)
	b := -plaster.ConductivityW * m1 * math.Sin(m1*plasterM) / (rub.ConductivityW * m2)
	sin, cos := math.Sincos(m2 * (x - plasterM))
	return a*cos + b*sin, rub.ConductivityW * m2 * (b*cos - a*sin)
}

// decays returns the first n decay rates, 1/s: where the mode leaves through
// the surface just what the air takes.
func (l twoLayers) decays(n int) []float64 {
	surplus := func(root float64) float64 {
		value, flux := l.mode(root*root, plasterM+rubberM)
		return flux + 8*value
	}
	var found []float64
	const step = 1e-4 // in the square root of the decay rate
	for root := step; len(found) < n; root += step {
		if surplus(root)*surplus(root+step) < 0 {
			root := bisect(surplus, root, root+step)
			found = append(found, root*root)
		}
	}
	return found
}

// tempC is the temperature at x after seconds, from 15 °C in air of 25 °C.
func (l twoLayers) tempC(x, seconds float64) float64 {
	sum := 0.0
	for _, decay := range l.decays(25) {
		whole := l.integral(decay, func(v float64) float64 { return v })
		square := l.integral(decay, func(v float64) float64 { return v * v })
		value, _ := l.mode(decay, x)
		sum += whole / square * value * math.Exp(-decay*seconds)
	}
	return 25 - 10*sum
}

// integral is that of ρc·f(mode) over both layers, by Simpson's rule.
func (l twoLayers) integral(decay float64, f func(float64) float64) float64 {
	simpson := func(from, to, heat float64) float64 {
		const n = 400
		sum := 0.0
		for i := range n + 1 {
			value, _ := l.mode(decay, from+(to-from)*float64(i)/n)
			weight := 2.0 + 2*float64(i%2)
			if i == 0 || i == n {
				weight = 1
			}
			sum += weight * f(value)
		}
		return heat * sum * (to - from) / (3 * n)
	}
	return simpson(0, plasterM, 1200*1000) + simpson(plasterM, plasterM+rubberM, 1200*1300)
}

// place is where the table's words point.
func (twoLayers) place(word string) float64 {
	return map[string]float64{"back": 0, "interface": plasterM, "surface": plasterM + rubberM}[word]
}

func TestTwoLayersExpansion(t *testing.T) {
	var exact twoLayers
	decays := exact.decays(4)
	for _, r := range table(t, "two_layers.csv") {
		if r["quantity"] == "decay" {
			require.InEpsilon(t, r.number(t, "expected"), decays[int(r.number(t, "index"))-1], 2e-9, "%v", r)
			continue
		}
		got := exact.tempC(exact.place(r["quantity"]), r.number(t, "seconds"))
		require.InDelta(t, r.number(t, "expected"), got, r.number(t, "tolerance"), "%v", r)
	}
}

// plasterUnderRubber is the same body as a mesh.
func plasterUnderRubber(t *testing.T, cells int) *Body {
	return bodyOf(t, Build{Layers: []Layer{
		{Material: Plaster(), Thickness: plasterM, Cells: cells},
		{Material: MoldRubber(), Thickness: rubberM, Cells: cells, Cures: true},
	}, RightH: 8})
}

func TestTwoLayersScheme(t *testing.T) {
	var exact twoLayers
	var errors []float64
	for _, cells := range []int{8, 16, 32} {
		body := plasterUnderRubber(t, cells)
		s := at(t, body, []float64{15, 15})
		run(t, s, 25, 1800, 2)
		errors = append(errors, math.Abs(exact.tempC(plasterM, 1800)-s.ProbeC(body.OnFace(1))))
	}
	require.Less(t, errors[2], 1e-3)
	requireOrder(t, 2, 0.2, errors)
}

// Heat through layers in series meets the harmonic mean of their half cells: the
// mesh is exact, where an arithmetic mean (0.325 for 0.43 beside 0.22) is not.
func TestSteadyLayers(t *testing.T) {
	body := bodyOf(t, Build{Layers: []Layer{
		{Material: Plaster(), Thickness: 0.01},
		{Material: MoldRubber(), Thickness: 0.02},
	}, LeftH: 8, RightH: 8})
	s := at(t, body, []float64{15, 15})
	s.plan.factor(body, 1e12, pinned{})
	for range 3 {
		s.eulerBetween(10, 22, nil, [mostPins]float64{})
	}
	flux := body.link[body.Cells()] * (22 - s.TempC(body.Cells()-1))
	got := map[string]float64{
		"flux":          flux,
		"left surface":  10 + flux/8,
		"interface":     s.ProbeC(body.OnFace(1)),
		"right surface": s.ProbeC(body.OnFace(2)),
	}
	for _, r := range table(t, "steady_layers.csv") {
		require.InDelta(t, r.number(t, "expected"), got[r["quantity"]], r.number(t, "tolerance"), "%v", r)
	}
}

func TestContact(t *testing.T) {
	for _, r := range table(t, "contact.csv") {
		for _, m := range Materials() {
			if m.Name == r["pattern"] {
				require.InDelta(t, r.number(t, "contact_c"), ContactC(MoldRubber(), 22, m, 10), r.number(t, "tolerance"), "%v", r)
			}
		}
	}
}

// Just after the pour the joint of two thick bodies is at the contact temperature.
func TestSchemeMeetsAtTheContactTemperature(t *testing.T) {
	for _, m := range []Material{Plaster(), Bronze(), Wood()} {
		body := bodyOf(t, Build{Layers: []Layer{
			{Material: m, Thickness: 0.1, Cells: 400},
			{Material: MoldRubber(), Thickness: 0.02, Cells: 200},
		}})
		s := at(t, body, []float64{10, 22})
		run(t, s, 20, 120, 1)
		if m.Name == "bronze" { // it conducts so well that 0.1 m of it is not thick for long
			require.InDelta(t, ContactC(m, 10, MoldRubber(), 22), s.ProbeC(body.OnFace(1)), 0.1)
			continue
		}
		require.InDelta(t, ContactC(m, 10, MoldRubber(), 22), s.ProbeC(body.OnFace(1)), 0.01)
	}
}

func TestMaterials(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range Materials() {
		require.NotEmpty(t, m.Source, m.Name)
		require.Contains(t, []Status{Published, Estimate}, m.Status)
		require.False(t, seen[m.Name])
		seen[m.Name] = true
	}
	require.InEpsilon(t, 1.410e-7, MoldRubber().DiffusivityM2S(), 1e-3)
	require.Less(t, SlowRubber().DiffusivityM2S(), MoldRubber().DiffusivityM2S())
	require.Greater(t, FastRubber().DiffusivityM2S(), MoldRubber().DiffusivityM2S())
}
