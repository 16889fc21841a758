package doubt_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"pourward/model/doubt"
)

// bare are priors that leave only what a test puts in: no fault but those it names, no false firm.
func bare() doubt.Priors {
	p := doubt.DefaultPriors()
	p.Surface, p.CupAlone, p.FalseFirm = [4]float64{}, 0, 0
	p.Ratio, p.Mixing, p.Aged, p.Contaminated = 0, 0, 0, 0
	p.SurfaceNever, p.BatchNever, p.PatchShows, p.EdgeShows = 1, 1, 1, 1
	return p
}

func judge(t require.TestingT, c doubt.Case) doubt.Judgement {
	j, err := c.Judge()
	require.NoError(t, err)
	return j
}

// tackyUnder is the probability that all things are tacky at the ages of the checks if nothing is wrong: a
// batch that never cures is tacky for certain, so the odds of an even bet are that probability.
func tackyUnder(t require.TestingT, spread doubt.Spread, checks ...doubt.Check) float64 {
	p := bare()
	p.Ratio = 0.5
	j := judge(t, doubt.Case{Spread: spread, Checks: checks, Priors: &p})
	return j.P[doubt.NothingWrong] / j.P[doubt.BatchBad]
}

// A spoiled patch is a diagnostic test with a hit rate and a false alarm rate.
func TestDiagnosticTests(t *testing.T) {
	for _, r := range table(t, "bayes.csv") {
		p := bare()
		p.Surface[doubt.Sealed] = r.number(t, "base")
		p.SpoilsBad, p.SpoilsClean = r.number(t, "hit"), r.number(t, "alarm")
		c := doubt.Case{Priors: &p, Surface: doubt.Surface{Prep: doubt.Sealed},
			Checks: []doubt.Check{{Of: doubt.Patch, Found: doubt.Spoiled}}}
		require.InDelta(t, r.number(t, "expected"), judge(t, c).P[doubt.SurfaceInhibits], r.number(t, "tolerance"), "%v", r)
	}
}

// One thing tacky at z standard deviations of ln(need) is the upper tail of the normal distribution.
func TestNormalTails(t *testing.T) {
	spread := doubt.Spread{Shared: 0.3, Own: [3]float64{0.4, 0.4, 0.4}}
	for _, r := range table(t, "normal.csv") {
		for _, of := range []doubt.Thing{doubt.Cup, doubt.Patch, doubt.Mold} {
			got := tackyUnder(t, spread, doubt.Check{Of: of, Found: doubt.Tacky, LnAge: 0.5 * r.number(t, "z")})
			require.InDelta(t, r.number(t, "upper_tail"), got, r.number(t, "tolerance"), "%v", r)
		}
	}
}

// Both tacky at their time: Sheppard's formula of 1899, 1/4 + asin(rho)/(2 pi); for three things,
// 1/8 + (sum of asin)/(4 pi) (Johnson and Kotz, Continuous Multivariate Distributions, 1972; from memory).
func TestOrthants(t *testing.T) {
	for _, shared := range []float64{0.03, 0.1, 0.3, 1} {
		for _, own := range []float64{0.03, 0.08, 0.25} {
			spread := doubt.Spread{Shared: shared, Own: [3]float64{own, own, own}}
			asin := math.Asin(shared * shared / (shared*shared + own*own))
			cup := doubt.Check{Of: doubt.Cup, Found: doubt.Tacky}
			patch := doubt.Check{Of: doubt.Patch, Found: doubt.Tacky}
			mold := doubt.Check{Of: doubt.Mold, Found: doubt.Tacky}
			require.InDelta(t, 0.25+asin/(2*math.Pi), tackyUnder(t, spread, cup, patch), 1e-8)
			require.InDelta(t, 0.125+3*asin/(4*math.Pi), tackyUnder(t, spread, cup, patch, mold), 1e-8)
		}
	}
}

// normal is the density of N(0, sd).
func normal(x, sd float64) float64 {
	return math.Exp(-x*x/(2*sd*sd)) / (sd * math.Sqrt(2*math.Pi))
}

// above is the upper tail of N(0, 1).
func above(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// The whole mixture against Gauss-Legendre quadrature written out by hand for one case: cup firm at c,
// patch tacky at a, with false firms, a surface that shows by chance, delays and both faults.
func TestMixtureAgainstQuadrature(t *testing.T) {
	const shared, own, c, a = 0.25, 0.08, 0.1, 0.6
	p := doubt.DefaultPriors()
	bad := 1 - (1-p.Ratio)*(1-p.Mixing)*(1-p.Aged)*(1-p.Contaminated)
	const inhibits = 0.2
	firm := func(s float64) float64 { return p.FalseFirm + (1-p.FalseFirm)*above((s-c)/own) }
	tacky := func(s float64) float64 { return (1 - p.FalseFirm) * above((a-s)/own) }
	late := func(s float64, of func(float64) float64) (mean float64) {
		for k := 2; k <= 6; k++ {
			mean += of(s+float64(k)*math.Ln2/2) / 5
		}
		return mean
	}
	poured := func(s float64) float64 {
		return p.PatchShows*(p.SurfaceNever*(1-p.FalseFirm)+(1-p.SurfaceNever)*late(s, tacky)) + (1-p.PatchShows)*tacky(s)
	}
	well := func(s float64) float64 { return firm(s) * tacky(s) }
	ill := func(s float64) float64 { return firm(s) * poured(s) }
	over := func(of func(float64) float64) float64 {
		sum := 0.0
		for i := -30; i < 30; i++ { // panels of 0.2 standard deviations
			from := float64(i) * 0.2 * shared
			sum += quad.Fixed(func(s float64) float64 { return normal(s, shared) * of(s) }, from, from+0.2*shared, 20, nil, 0)
		}
		return sum
	}
	never := p.FalseFirm * (1 - p.FalseFirm)
	cupOff := func(s float64) float64 {
		return (p.BatchNever*p.FalseFirm + (1-p.BatchNever)*late(s, firm)) * tacky(s)
	}
	want := doubt.Probabilities{
		(1 - bad) * (1 - p.CupAlone) * (1 - inhibits) * over(well),
		(1 - bad) * (1 - p.CupAlone) * inhibits * over(ill),
		bad * (1 - inhibits) * (p.BatchNever*never + (1-p.BatchNever)*over(func(s float64) float64 { return late(s, well) })),
		bad * inhibits * (p.BatchNever*never + (1-p.BatchNever)*over(func(s float64) float64 { return late(s, ill) })),
		(1 - bad) * p.CupAlone * over(cupOff),
	}
	sum := 0.0
	for _, w := range want {
		sum += w
	}
	got := judge(t, doubt.Case{Spread: doubt.Spread{Shared: shared}, Checks: []doubt.Check{
		{Of: doubt.Cup, Found: doubt.Firm, LnAge: c}, {Of: doubt.Patch, Found: doubt.Tacky, LnAge: a},
	}})
	for h, w := range want {
		require.InDelta(t, w/sum, got.P[h], 1e-8, "%v", doubt.Hypothesis(h))
	}
}

// Gaps: the evidence is Simpson's mean of the evidence at the least, likely and most age, computed by hand
// from the normal tail.
func TestGapsAverageOverAges(t *testing.T) {
	spread := doubt.Spread{Shared: 0.3, Own: [3]float64{0.4, 0.4, 0.4}}
	got := tackyUnder(t, spread, doubt.Check{Of: doubt.Cup, Found: doubt.Tacky, LnAge: 0.5, LnLess: 0.5, LnMore: 0.25})
	require.InDelta(t, (above(0)+4*above(1)+above(1.5))/6, got, 1e-8)
	lost := tackyUnder(t, spread, doubt.Check{Of: doubt.Cup, Found: doubt.Tacky, LnAge: 0.5, LnLess: math.Inf(1)})
	require.InDelta(t, (1+5*above(1))/6, lost, 1e-8)
}
