package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestGradientMatchesDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		hours := rapid.Float64Range(4, 60).Draw(t, "hours")
		short, long := night(12, hours), append(night(12, hours), Piece{22, 30, 3600})
		o := objective{prior: rubber(), checks: []Check{
			StillTacky(short), AlreadyFirm(long), Between(short, long), Exactly(long), StillTacky(Steady(2, 60)),
		}}
		point := []float64{
			math.Log(16*3600) + rapid.Float64Range(-0.5, 0.5).Draw(t, "mu"),
			rapid.Float64Range(2, 9).Draw(t, "ea"),
			rapid.Float64Range(-2.5, 0).Draw(t, "lnSigma"),
		}
		grad := make([]float64, parameters)
		o.at(point, grad)
		value := func(x []float64) float64 { return o.at(x, make([]float64, parameters)) }
		for i, want := range fd.Gradient(nil, value, point, &fd.Settings{Formula: fd.Central}) {
			require.InDelta(t, want, grad[i], 1e-5*(1+math.Abs(want)))
		}
	})
}

// The density of an exact time on a warming history must integrate to one over clock time.
func TestExactDensityIntegratesToOne(t *testing.T) {
	law, point := rubber().law(60e3), []float64{math.Log(16 * 3600), 6, math.Log(0.15)}
	density := func(hours float64) float64 {
		check := Exactly(History{{10, 10 + hours/2, 3600 * hours}})
		return 3600 * math.Exp(check.lnLikelihood(law, point, make([]float64, parameters)))
	}
	// The end temperature depends on the length, so the same ramp is walked: 0.5 K an hour from 10 degC.
	require.InDelta(t, 1, quad.Fixed(density, 1e-6, 80, 400, quad.Legendre{}, 0), 1e-6)
}

func TestTailsMatchTheDistribution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.Float64Range(-35, 8).Draw(t, "z")
		require.InDelta(t, math.Log(distuv.UnitNormal.CDF(z)), lnBelow(z), 1e-9*(1+z*z))
		width := rapid.Float64Range(0.01, 3).Draw(t, "width")
		low := rapid.Float64Range(-5, 5).Draw(t, "low")
		want := distuv.UnitNormal.CDF(-low) - distuv.UnitNormal.CDF(-low-width)
		require.InEpsilon(t, want, math.Exp(lnBetween(low, low+width)), 1e-6)
	})
	// -log10 Q(x) is 349.43701 at 40 and 2173.87154 at 100 (Abramowitz and Stegun, table 26.2, from memory; computed by hand).
	require.InDelta(t, 349.43701, -lnBelow(-40)/math.Ln10, 1e-4)
	require.InDelta(t, 2173.87154, -lnBelow(-100)/math.Ln10, 1e-4)
}
