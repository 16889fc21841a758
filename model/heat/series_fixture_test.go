package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// shapeOf reads a shape's name.
func shapeOf(t *testing.T, name string) Shape {
	t.Helper()
	shapes := map[string]Shape{"slab": Slab, "cylinder": Cylinder, "sphere": Sphere}
	shape, ok := shapes[name]
	require.True(t, ok, name)
	return shape
}

func TestRoots(t *testing.T) {
	for _, r := range table(t, "roots.csv") {
		shape, index := shapeOf(t, r["shape"]), int(r.number(t, "index"))
		z := roots(shape, r.number(t, "biot"), index)[index-1]
		require.InDelta(t, r.number(t, "root"), z, r.number(t, "tolerance"), "%v", r)
		if r["coefficient"] != "" {
			require.InDelta(t, r.number(t, "coefficient"), coefficient(shape, z), r.number(t, "tolerance"), "%v", r)
		}
	}
}

// books are the worked examples, by name; the inputs are in the table.
func books() map[string]float64 {
	shaft := func(seconds float64) float64 {
		alpha := 14.9 / (7900 * 477)
		return 200 + 400*left(Cylinder, 80*0.1/14.9, alpha*seconds/0.01, 0)
	}
	oneTerm := func(shape Shape, biot, share float64) (z, c, fourier float64) {
		z = roots(shape, biot, 1)[0]
		c = coefficient(shape, z)
		return z, c, math.Log(c/share) / (z * z)
	}
	lumped := func(seconds float64) float64 { return math.Exp(-seconds * 53 * 2 / (2800 * 880 * 0.02)) }
	plateJ := 2800 * 880 * 0.02 * 1 * (15.0 - 700)
	pipeBiot, pipeFourier := 500*0.04/63.9, 18.8e-6*480/(0.04*0.04)
	pipeZ, pipeC, _ := oneTerm(Slab, pipeBiot, 1)
	pipeInner := 60 - 80*pipeC*math.Exp(-pipeZ*pipeZ*pipeFourier)
	pipeOuter := 60 - (60-pipeInner)*math.Cos(pipeZ)
	sphereZ, sphereC, sphereFourier := oneTerm(Sphere, 6000*0.005/20, 30.0/315)
	eggZ, _, eggFourier := oneTerm(Sphere, 1200*0.025/0.627, 25.0/90)
	fluxRoot := math.Sqrt(117e-6 * 120)
	flux := func(x float64) float64 {
		return 20 + 3e5/401.0*(2*fluxRoot/math.SqrtPi*math.Exp(-x*x/(4*fluxRoot*fluxRoot))-x*math.Erfc(x/(2*fluxRoot)))
	}
	const day = 86400.0
	return map[string]float64{
		"brass plate surface":       500 - 480*left(Slab, 120*0.02/110, 110/(8530*380.0)*420/(0.02*0.02), 1),
		"steel shaft center":        shaft(420),
		"steel shaft center 45 min": shaft(2700),
		"lumped plate":              15 + 685*lumped(60),
		"lumped plate Biot":         53 * 0.01 / 180,
		"lumped plate heat":         plateJ * (1 - lumped(60)),
		"lumped plate most heat":    plateJ,
		"junction diameter":         6 * 400 * 1 / (8500 * 400.0),
		"junction time":             math.Log(175.0 / 1),
		"pipe Biot":                 pipeBiot,
		"pipe root":                 pipeZ,
		"pipe coefficient":          pipeC,
		"pipe inner wall":           pipeInner,
		"pipe outer wall":           pipeOuter,
		"pipe flux":                 500 * (pipeOuter - 60),
		"sphere in air":             3000 * 1000 * 0.005 / (3 * 10) * math.Log(380.0/315),
		"sphere root":               sphereZ,
		"sphere coefficient":        sphereC,
		"sphere in water":           sphereFourier * 0.005 * 0.005 / 6.66e-6,
		"burial depth":              2 * math.Sqrt(0.52/(2050*1840)*60*day) * math.Erfinv(15.0/35),
		"pipe depth":                2 * math.Sqrt(0.15e-6*90*day) * math.Erfinv(10.0/25),
		"egg time":                  eggFourier * 0.025 * 0.025 / 0.151e-6,
		"egg root":                  eggZ,
		"flux surface":              flux(0),
		"flux depth":                flux(0.15),
		"rubber Biot":               rubberBiot,
		"rubber Fourier":            rubberFourier(3600),
	}
}

func TestBooks(t *testing.T) {
	got := books()
	rows := table(t, "books.csv")
	require.Len(t, got, len(rows))
	for _, r := range rows {
		require.Contains(t, got, r["name"])
		require.InDelta(t, r.number(t, "expected"), got[r["name"]], r.number(t, "tolerance"), "%v", r)
	}
}

// seriesAt evaluates one row of the rubber table by the series.
func seriesAt(t *testing.T, r row) float64 {
	t.Helper()
	fourier := rubberFourier(r.number(t, "seconds"))
	if r["place"] == "mean" {
		return 25 - 10*meanLeft(rubberBiot, fourier)
	}
	place := r.number(t, "place")
	if r["shape"] == "short cylinder" {
		half := 8 * 0.03 / 0.22
		return 25 - 10*left(Cylinder, rubberBiot, fourier, place)*left(Slab, half, fourier*0.04*0.04/(0.03*0.03), 0)
	}
	return 25 - 10*left(shapeOf(t, r["shape"]), rubberBiot, fourier, place)
}

// The exact solutions that the scheme is held to are themselves held to the table.
func TestRubberStepSeries(t *testing.T) {
	for _, r := range table(t, "rubber_step.csv") {
		require.InDelta(t, r.number(t, "temp_c"), seriesAt(t, r), r.number(t, "tolerance"), "%v", r)
	}
}

func TestDeepStepFormula(t *testing.T) {
	for _, r := range table(t, "deep_step.csv") {
		got := deepStep(0.22, rubberAlpha, 8, r.number(t, "depth_m"), r.number(t, "seconds"))
		require.InDelta(t, r.number(t, "share"), got, r.number(t, "tolerance"), "%v", r)
	}
	// The 40 mm slab has not noticed its back after ten minutes.
	require.InDelta(t, 15+10*deepStep(0.22, rubberAlpha, 8, 0, 600), 25-10*left(Slab, rubberBiot, rubberFourier(600), 1), 1e-4)
}
