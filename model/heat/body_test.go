package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestMeshRules(t *testing.T) {
	body := bodyOf(t, Build{Layers: []Layer{
		{Material: Plaster(), Thickness: 0.04},
		{Material: MoldRubber(), Thickness: 0.004, Cures: true},
		{Material: MoldRubber(), Thickness: 0.003, Cures: true},
		{Material: GlassLaminate(), Thickness: 0.021},
	}, RightH: 8})
	var cells []int
	for layer := range 4 {
		from, to := body.LayerCells(layer)
		cells = append(cells, to-from)
	}
	require.Equal(t, []int{16, 8, 8, 9}, cells, "at least 8, none wider than 2.5 mm")
	require.Equal(t, []span{{16, 32}}, body.curing, "brushed layers of rubber are one range")
}

// Volumes of shells add up to the whole: r²/2 for a radian of cylinder, r³/3
// for a steradian of sphere.
func TestVolumesAddUp(t *testing.T) {
	for shape, whole := range map[Shape]float64{Slab: 0.05, Cylinder: 0.05 * 0.05 / 2, Sphere: 0.05 * 0.05 * 0.05 / 3} {
		body := bodyOf(t, Build{Shape: shape, Layers: []Layer{{Material: Plaster(), Thickness: 0.03}, {Material: Plaster(), Thickness: 0.02}}})
		sum := 0.0
		for _, c := range body.heat {
			sum += c
		}
		require.InEpsilon(t, 1.2e6*whole, sum, 1e-12)
	}
}

func TestImpossibleBodies(t *testing.T) {
	good := Layer{Material: Plaster(), Thickness: 0.02}
	thin, bare, hot := good, Layer{Thickness: 0.02}, good
	thin.Thickness = 0
	hot.Reaction = Reaction{HeatJKg: 100}
	many, odd := good, good
	many.Cells, odd.Cells = mostCells+1, -1
	for name, build := range map[string]Build{
		"no layers":     {},
		"no shape":      {Shape: 3, Layers: []Layer{good}},
		"negative h":    {Layers: []Layer{good}, RightH: -1},
		"no number":     {Layers: []Layer{good}, LeftH: math.NaN()},
		"inside out":    {Layers: []Layer{good}, InnerRadius: -1},
		"no thickness":  {Layers: []Layer{thin}},
		"no properties": {Layers: []Layer{bare}},
		"no time":       {Layers: []Layer{hot}},
		"many cells":    {Layers: []Layer{many}},
		"few cells":     {Layers: []Layer{odd}},
		"a house":       {Layers: []Layer{{Material: Plaster(), Thickness: 1e9}}},
	} {
		_, err := NewBody(build)
		require.ErrorIs(t, err, ErrBuild, name)
	}
}

func TestStatesThatCannotStart(t *testing.T) {
	body := bodyOf(t, Build{Layers: []Layer{{Material: Plaster(), Thickness: 0.02}}, RightH: 8})
	_, err := NewState(body, nil)
	require.Error(t, err)
	_, err = NewState(body, []float64{math.NaN()})
	require.Error(t, err)
	_, err = NewState(body, []float64{20}, nil)
	require.Error(t, err)
	s := at(t, body, []float64{20}, tabulated(t, arrhenius(50000)))
	_, ok := s.Slowest(0)
	require.False(t, ok, "nothing cures")
	_, ok = s.Slowest(1)
	require.False(t, ok, "no such law")
}

// The caller's layers are not the body's.
func TestBodyIsImmutable(t *testing.T) {
	layers := []Layer{{Material: Plaster(), Thickness: 0.02}}
	body := bodyOf(t, Build{Layers: layers, RightH: 8})
	layers[0].Thickness = 5
	require.Equal(t, 0.02, body.build.Layers[0].Thickness)
}

// A shell poured over cured rubber: what is beneath keeps its heat and its age,
// and the shell's own heat hurries the skin.
func TestGrown(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	bare := at(t, plasterUnderRubber(t, 0), []float64{15, 20}, rates)
	for range 720 {
		require.NoError(t, bare.Step(18, 10))
	}
	m, reaction := WetPlaster(0.7)
	shell := Layer{Material: m, Thickness: 0.02, Reaction: reaction}
	cased, err := bare.Grown(shell, 20, DefaultH)
	require.NoError(t, err)
	n := bare.Body().Cells()
	require.Equal(t, bare.tempC, cased.tempC[:n])
	require.Equal(t, bare.ages[0], cased.ages[0][:n])
	require.Equal(t, bare.rims.ages, cased.rims.ages)
	for range 360 {
		require.NoError(t, bare.Step(18, 10))
		require.NoError(t, cased.Step(18, 10))
	}
	require.Greater(t, cased.Age(0, n-1), 1.2*bare.Age(0, n-1))

	brushed, err := bare.Grown(Layer{Material: MoldRubber(), Thickness: 0.004, Cures: true}, 20, DefaultH)
	require.NoError(t, err)
	slowest, ok := brushed.Slowest(0)
	require.True(t, ok)
	require.Zero(t, slowest.AgeSeconds, "the new layer is the youngest")
	require.Equal(t, 2, slowest.Layer)
	require.Equal(t, bare.rims.ages[0][0], brushed.rims.ages[0][0])

	_, err = bare.Grown(Layer{}, 20, DefaultH)
	require.ErrorIs(t, err, ErrBuild)
	_, err = bare.Grown(shell, math.NaN(), DefaultH)
	require.Error(t, err)
}
