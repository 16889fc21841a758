package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// A face held at a temperature is the classical body with a prescribed surface:
// erfc(x/2√(αt)) into depth (Carslaw and Jaeger 2.5).
func TestFaceProbeIsAPrescribedSurface(t *testing.T) {
	body := bodyOf(t, Build{Layers: []Layer{
		{Material: Plaster(), Thickness: 0.1, Cells: 200},
		{Material: MoldRubber(), Thickness: 0.1, Cells: 200},
	}})
	s := at(t, body, []float64{20, 20})
	face := Measured{body.OnFace(1), 10}
	for range 600 {
		require.NoError(t, s.Step(20, 1, face))
	}
	for layer, m := range []Material{Plaster(), MoldRubber()} {
		from, to := body.LayerCells(layer)
		for i := from; i < to; i++ {
			depth := math.Abs(body.CenterM(i) - 0.1)
			exact := 20 - 10*math.Erfc(depth/(2*math.Sqrt(m.DiffusivityM2S()*600)))
			require.InDelta(t, exact, s.TempC(i), 0.01, "%s at %g m", m.Name, depth)
		}
	}
}

func TestCellProbeHoldsItsCell(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	body := plasterUnderRubber(t, 0)
	probe := body.Within(1, 0.01)
	s := at(t, body, []float64{10, 20}, rates)
	for range 200 {
		require.NoError(t, s.Step(25, 10, Measured{probe, 17.5}))
	}
	require.Equal(t, 17.5, s.ProbeC(probe))
	require.Equal(t, 17.5, s.TempC(int(probe.at)))
	depth := body.CenterM(int(probe.at)) - 0.03
	require.InDelta(t, 0.01, depth, 0.00125)
	require.InEpsilon(t, 2000*rates.Rate(17.5), s.Age(0, int(probe.at)), 1e-2)
}

// A probe on the pattern's face decides the rim's cure, the mold's slowest part.
func TestFaceProbeDecidesTheRim(t *testing.T) {
	rates := tabulated(t, arrhenius(50000))
	body := plasterUnderRubber(t, 0)
	face := body.OnFace(1)
	s := at(t, body, []float64{10, 20}, rates)
	for range 3600 {
		require.NoError(t, s.Step(20, 10, Measured{face, 12}))
	}
	slowest, ok := s.Slowest(0)
	require.True(t, ok)
	require.Zero(t, slowest.DepthM)
	require.Equal(t, 12.0, slowest.TempC)
	require.InEpsilon(t, 36000*rates.Rate(12), slowest.AgeSeconds, 1e-3)
}

// Held long at both outer faces, a body settles to a straight line; the skin's
// probe outweighs the air.
func TestProbesOnBothOuterFaces(t *testing.T) {
	body := bodyOf(t, Build{Layers: []Layer{{Material: MoldRubber(), Thickness: 0.02}}, LeftH: 8, RightH: 8})
	s := at(t, body, []float64{20})
	for range 200 {
		require.NoError(t, s.Step(35, 3600, Measured{body.OnFace(0), 10}, Measured{body.OnFace(1), 20}))
	}
	for i := range body.Cells() {
		require.InDelta(t, 10+10*body.CenterM(i)/0.02, s.TempC(i), 1e-9)
	}
}

// A probe that reads nothing leaves the model to itself, and so does none.
func TestProbeWithoutAReading(t *testing.T) {
	body := plasterUnderRubber(t, 0)
	a, b := at(t, body, []float64{10, 20}), at(t, body, []float64{10, 20})
	for range 50 {
		require.NoError(t, a.Step(20, 10))
		require.NoError(t, b.Step(20, 10, Measured{body.OnFace(1), math.NaN()}, Measured{}))
	}
	require.Equal(t, a.tempC, b.tempC)
}

// A probe that agrees with the model changes nothing.
func TestProbeThatAgrees(t *testing.T) {
	body := plasterUnderRubber(t, 0)
	s := at(t, body, []float64{20, 20})
	for range 50 {
		require.NoError(t, s.Step(20, 600, Measured{body.OnFace(1), 20}, Measured{body.Within(0, 0.02), 20}))
	}
	for i := range body.Cells() {
		require.InDelta(t, 20, s.TempC(i), 1e-9)
	}
}

func TestProbePlacesStayInside(t *testing.T) {
	body := plasterUnderRubber(t, 0)
	require.Equal(t, body.OnFace(0), body.OnFace(-3))
	require.Equal(t, body.OnFace(2), body.OnFace(9))
	require.Equal(t, body.Within(1, 0.0199), body.Within(7, 5))
	require.Equal(t, body.Within(0, 0), body.Within(0, -1))
}
