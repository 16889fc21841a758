package fit

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/cure"
)

// nothing is the prior that leaves everything to the data, at 23 degC and without a floor.
func nothing() Prior {
	return Prior{RefC: 23, FloorC: math.Inf(-1), LnSeconds: Unknown(), EaJ: Unknown(), LnSigma: Unknown()}
}

// rubber is the prior of an invented rubber: 16 h at 23 degC, 50 +/- 15 kJ/mol, batches repeating to about 10 %.
func rubber() Prior {
	return Prior{
		RefC: 23, FloorC: 5,
		LnSeconds: Normal{Mean: math.Log(16 * 3600), SD: 0.2},
		EaJ:       Normal{Mean: 50e3, SD: 15e3},
		LnSigma:   Normal{Mean: math.Log(0.1), SD: 0.5},
	}
}

// result computes a row of results.csv; histories there are in hours.
func result(t *testing.T, quantity string, p Posterior) float64 {
	t.Helper()
	const evJ = 96485.33212 // J/mol
	perK := p.EaJ.Mean / cure.GasConstant
	intercept := p.LnSeconds.Mean - perK/(p.RefC+kelvin)
	quantile := func(share float64) float64 {
		return math.Exp(Normal{Mean: intercept + perK/(130+kelvin), SD: p.Sigma()}.Quantile(share))
	}
	values := map[string]float64{
		"ea eV":                 p.EaJ.Mean / evJ,
		"ea kJ":                 p.EaJ.Mean / 1000,
		"acceleration 35 to 70": p.Law().Rate(70) / p.Law().Rate(35),
		"intercept":             intercept / math.Ln10,
		"ln intercept":          intercept,
		"slope":                 perK / 1000 / math.Ln10,
		"sigma":                 p.Sigma(),
		"sigma10":               p.Sigma() / math.Ln10,
		"hours at 130":          quantile(0.5),
		"10 % at 130":           quantile(0.1),
		"90 % at 130":           quantile(0.9),
		"log likelihood":        p.LnLikelihood,
	}
	require.Contains(t, values, quantity)
	return values[quantity]
}

func TestLearnReproducesPublishedFits(t *testing.T) {
	for _, row := range readTable(t, "testdata/results.csv") {
		t.Run(row["set"]+" "+row["quantity"], func(t *testing.T) {
			checks, _ := events(t, row["set"])
			posterior, err := Learn(nothing(), checks)
			require.NoError(t, err)
			require.False(t, posterior.EaHeld)
			got, want := result(t, row["quantity"], posterior), number(t, row["expected"])
			if percent, ok := strings.CutSuffix(row["tolerance"], "%"); ok {
				require.InEpsilon(t, want, got, number(t, percent)/100)
				return
			}
			require.InDelta(t, want, got, number(t, row["tolerance"]))
		})
	}
}

// With the spread known and one temperature, Learn must meet the conjugate normal rule.
func TestLearnMeetsTheConjugateRule(t *testing.T) {
	prior := rubber()
	prior.LnSigma = Normal{Mean: math.Log(0.1)}
	want := prior.LnSeconds
	var checks []Check
	for _, hours := range []float64{14, 17, 18.5} {
		checks = append(checks, Exactly(Steady(23, 3600*hours)))
		want = want.Update(Normal{Mean: math.Log(3600 * hours), SD: 0.1})
	}
	got, err := Learn(prior, checks)
	require.NoError(t, err)
	require.InDelta(t, want.Mean, got.LnSeconds.Mean, 1e-6)
	require.InDelta(t, want.SD, got.LnSeconds.SD, 1e-6)
	require.Equal(t, Normal{Mean: 50e3, SD: 15e3}, roundedTo(got.EaJ, 1e-3))
}

func roundedTo(n Normal, unit float64) Normal {
	return Normal{Mean: math.Round(n.Mean/unit) * unit, SD: math.Round(n.SD/unit) * unit}
}

// night is a history that cools from 22 degC to lowC and warms again, over the given hours.
func night(lowC, hours float64) History {
	half := 1800 * hours
	return History{{22, lowC, half}, {lowC, 22, half}}
}

func TestEnergyStaysThePriorsUntilTemperaturesSpread(t *testing.T) {
	cold := Exactly(Steady(13, 3600*45)) // later than the prior's 32.7 h at 13 degC
	few := []Check{Exactly(Steady(23, 3600*16)), Exactly(Steady(23.5, 3600*16)), cold}
	posterior, err := Learn(rubber(), few)
	require.NoError(t, err)
	require.True(t, posterior.EaHeld)
	require.Equal(t, Normal{Mean: 50e3, SD: 15e3}, roundedTo(posterior.EaJ, 1e-3))
	require.Greater(t, posterior.LnSeconds.Mean, math.Log(16*3600.0))

	many := append(few, Exactly(Steady(18, 3600*27)))
	posterior, err = Learn(rubber(), many)
	require.NoError(t, err)
	require.False(t, posterior.EaHeld)
	require.Greater(t, posterior.EaJ.Mean, 55e3, "slower in the cold means a higher energy")
	require.Less(t, posterior.EaJ.SD, 15e3)
}

func TestLearnFromNightsThatCool(t *testing.T) {
	truth := cure.Arrhenius{EaJ: 70e3, RefC: 23, FloorC: 5}
	var checks []Check
	for _, lowC := range []float64{8, 11, 14, 17, 20} {
		hours := hoursToReach(truth, lowC, 20*3600)
		checks = append(checks, Exactly(night(lowC, hours)), Between(night(lowC, hours*0.99), night(lowC, hours*1.01)))
	}
	checks = append(checks, Exactly(Steady(30, 20*3600/truth.Rate(30))), StillTacky(Steady(6, 20*3600)), AlreadyFirm(Steady(30, 40*3600)))
	prior := rubber()
	prior.EaJ, prior.LnSeconds = Unknown(), Unknown()
	posterior, err := Learn(prior, checks)
	require.NoError(t, err)
	require.InDelta(t, 70e3, posterior.EaJ.Mean, 3*posterior.EaJ.SD)
	require.InEpsilon(t, 70e3, posterior.EaJ.Mean, 0.02)
	require.InEpsilon(t, 20, math.Exp(posterior.LnSeconds.Mean)/3600, 0.02)
}

// hoursToReach solves for the length of a night after which the law has aged a batch by the given seconds.
func hoursToReach(law cure.Arrhenius, lowC, age float64) float64 {
	low, high := 0.0, 1000.0
	for range 60 {
		middle := (low + high) / 2
		if night(lowC, middle).account(law).Age < age {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

func TestChecksMoveTheReferenceTimeTheirOwnWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		history := night(rapid.Float64Range(8, 22).Draw(t, "lowC"), rapid.Float64Range(1, 80).Draw(t, "hours"))
		before := rubber().LnSeconds.Mean
		tacky, err := Learn(rubber(), []Check{StillTacky(history)})
		require.NoError(t, err)
		require.GreaterOrEqual(t, tacky.LnSeconds.Mean, before-1e-7)
		firm, err := Learn(rubber(), []Check{AlreadyFirm(history)})
		require.NoError(t, err)
		require.LessOrEqual(t, firm.LnSeconds.Mean, before+1e-7)
	})
}

func TestCountIsTheSameAsRepeating(t *testing.T) {
	check := StillTacky(Steady(15, 3600*20))
	once, err := Learn(rubber(), []Check{check, check, check})
	require.NoError(t, err)
	thrice, err := Learn(rubber(), []Check{check.Times(3)})
	require.NoError(t, err)
	require.InDelta(t, once.LnSeconds.Mean, thrice.LnSeconds.Mean, 1e-9)
	require.InDelta(t, once.LnLikelihood, thrice.LnLikelihood, 1e-9)
}

func TestNoChecksGiveThePriorBack(t *testing.T) {
	posterior, err := Learn(rubber(), nil)
	require.NoError(t, err)
	require.True(t, posterior.EaHeld)
	require.Equal(t, roundedTo(rubber().LnSeconds, 1e-6), roundedTo(posterior.LnSeconds, 1e-6))
	require.Zero(t, posterior.LnLikelihood)
}

func TestLearnRefusesWhatCannotBe(t *testing.T) {
	good := Steady(20, 3600)
	for want, checks := range map[string][]Check{
		"check 2 is firm without any time above the floor": {StillTacky(good), AlreadyFirm(Steady(2, 3600))},
		"check 1 ends below the floor":                     {Exactly(History{{20, 20, 60}, {20, 2, 60}})},
		"check 1 is firm no later than it was tacky":       {Between(good, good)},
		"check 1 has a temperature or a time":              {StillTacky(Steady(math.NaN(), 1))},
		"check 1 holds no history":                         {{count: 1}},
		"check 1 counts 0 batches":                         {StillTacky(good).Times(0)},
	} {
		_, err := Learn(rubber(), checks)
		require.ErrorContains(t, err, "learn cure time: "+want)
	}
	_, err := Learn(nothing(), []Check{Exactly(good)})
	require.ErrorContains(t, err, "too few temperatures")
	spread := []Check{StillTacky(Steady(10, 3600)), StillTacky(Steady(20, 3600)), StillTacky(Steady(30, 3600))}
	_, err = Learn(nothing(), spread)
	require.ErrorIs(t, err, errNoOptimum, "still tacky alone sets no upper limit")
}

func TestPosteriorProjectsABatch(t *testing.T) {
	posterior, err := Learn(rubber(), []Check{Exactly(Steady(18, 3600*23)), Exactly(Steady(21, 3600*18))})
	require.NoError(t, err)
	likely := posterior.LnTime(15)
	var acc cure.Account
	posterior.Law().Add(&acc, 15, 15, math.Exp(likely.Mean))
	require.InDelta(t, 0.5, posterior.Done(acc), 1e-9)

	var late cure.Account
	posterior.Law().Add(&late, 15, 15, math.Exp(likely.Quantile(0.9)))
	require.InDelta(t, 0.9, posterior.Done(late), 1e-9)
	require.Greater(t, posterior.LnTime(10).SD, posterior.LnTime(20).SD, "further from what was seen, less is known")
	require.Zero(t, posterior.Done(cure.Account{}))
	require.True(t, math.IsInf(posterior.LnTime(2).Mean, 1), "below the floor")
}

// A proper prior must always give an answer, however the checks contradict it and one another.
func TestAProperPriorAlwaysSettles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var checks []Check
		for range rapid.IntRange(0, 12).Draw(t, "checks") {
			history := night(rapid.Float64Range(6, 30).Draw(t, "lowC"), rapid.Float64Range(0.5, 200).Draw(t, "hours"))
			longer := append(history, Piece{22, 25, rapid.Float64Range(60, 1e5).Draw(t, "more")})
			kinds := []Check{StillTacky(history), AlreadyFirm(history), Between(history, longer), Exactly(longer)}
			checks = append(checks, rapid.SampledFrom(kinds).Draw(t, "kind").Times(rapid.IntRange(1, 5).Draw(t, "times")))
		}
		posterior, err := Learn(rubber(), checks)
		require.NoError(t, err)
		require.Less(t, posterior.EaJ.SD, 3*15e3, "contradiction may widen it a little, by way of sigma")
		require.Positive(t, posterior.LnSeconds.SD)
	})
}
