package doubt_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/doubt"
)

// rounding is what sums of a few hundred terms may lose.
const rounding = 1e-11

func drawSpread(t *rapid.T) doubt.Spread {
	own := rapid.Float64Range(0.04, 0.3)
	return doubt.Spread{
		Shared: rapid.Float64Range(0.05, 0.8).Draw(t, "shared"),
		Own:    [3]float64{own.Draw(t, "cup own"), own.Draw(t, "patch own"), own.Draw(t, "mold own")},
	}
}

func drawPriors(t *rapid.T) *doubt.Priors {
	p := doubt.DefaultPriors()
	rate := rapid.Float64Range(0.001, 0.6)
	p.Surface[doubt.Untold] = rate.Draw(t, "surface")
	p.Ratio, p.CupAlone = rate.Draw(t, "batch"), rate.Draw(t, "cup alone")
	p.SurfaceNever, p.BatchNever = rapid.Float64Range(0, 1).Draw(t, "surface never"), rapid.Float64Range(0, 1).Draw(t, "batch never")
	p.PatchShows, p.EdgeShows = rapid.Float64Range(0.5, 1).Draw(t, "patch shows"), rapid.Float64Range(0.3, 1).Draw(t, "edge shows")
	p.FalseFirm = rapid.Float64Range(0.001, 0.1).Draw(t, "false firm")
	p.SurfaceDelay.Most = rapid.IntRange(2, 8).Draw(t, "surface delay")
	p.BatchDelay.Most = rapid.IntRange(2, 8).Draw(t, "batch delay")
	return &p
}

func drawCheck(t *rapid.T, of []doubt.Thing, found []doubt.Finding) doubt.Check {
	k := doubt.Check{
		Of: rapid.SampledFrom(of).Draw(t, "of"), Found: rapid.SampledFrom(found).Draw(t, "found"),
		LnAge: rapid.Float64Range(-2, 2).Draw(t, "ln age"),
	}
	if rapid.IntRange(0, 4).Draw(t, "gap") == 0 {
		k.LnLess, k.LnMore = rapid.Float64Range(0, 0.5).Draw(t, "less"), rapid.Float64Range(0, 0.5).Draw(t, "more")
	}
	if k.Of == doubt.Cup && k.Found == doubt.Spoiled {
		k.Found = doubt.Tacky
	}
	return k
}

func drawChecks(t *rapid.T, least int, of []doubt.Thing, found []doubt.Finding) []doubt.Check {
	n := rapid.IntRange(least, 6).Draw(t, "checks")
	checks := make([]doubt.Check, n)
	for i := range checks {
		checks[i] = drawCheck(t, of, found)
	}
	return checks
}

var (
	anyThing   = []doubt.Thing{doubt.Cup, doubt.Patch, doubt.Mold}
	poured     = []doubt.Thing{doubt.Patch, doubt.Mold}
	anyFinding = []doubt.Finding{doubt.Firm, doubt.Tacky, doubt.Liquid, doubt.Spoiled}
	soft       = []doubt.Finding{doubt.Tacky, doubt.Liquid}
)

func drawCase(t *rapid.T) doubt.Case {
	return doubt.Case{
		Spread: drawSpread(t), Priors: drawPriors(t), Checks: drawChecks(t, 0, anyThing, anyFinding),
		ColdK: rapid.Float64Range(-5, 15).Draw(t, "cold"),
		Surface: doubt.Surface{
			Prep:  doubt.Prep(rapid.IntRange(0, 3).Draw(t, "prep")),
			Patch: doubt.Outcome(rapid.IntRange(0, 2).Draw(t, "earlier patch")),
		},
	}
}

func TestProbabilitiesSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := judge(t, drawCase(t))
		sum, prior := 0.0, 0.0
		for _, h := range doubt.Hypotheses() {
			require.GreaterOrEqual(t, j.P[h], 0.0)
			sum, prior = sum+j.P[h], prior+j.Prior[h]
		}
		require.InDelta(t, 1, sum, 1e-12)
		require.InDelta(t, 1, prior, 1e-12)
		require.InDelta(t, 1, j.P.Wrong()+j.P[doubt.NothingWrong]+j.P[doubt.OnlyCup], 1e-12)
	})
}

func TestNoFindingsGiveThePrior(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		c.Checks = nil
		j := judge(t, c)
		for h := range j.P {
			require.InDelta(t, j.Prior[h], j.P[h], 1e-12)
		}
		require.NotContains(t, []doubt.Verdict{doubt.Wait, doubt.Fine}, j.Verdict)
	})
}

func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		want := judge(t, c)
		c.Checks = rapid.Permutation(c.Checks).Draw(t, "order")
		require.Equal(t, want, judge(t, c))
	})
}

// A finding at age zero tells nothing.
func TestTackyWhenJustPouredTellsNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		want := judge(t, c)
		c.Checks = append(c.Checks, doubt.Check{Of: doubt.Patch, Found: doubt.Tacky, LnAge: math.Inf(-1)})
		got := judge(t, c)
		for h := range want.P {
			require.InDelta(t, want.P[h], got.P[h], 1e-9)
		}
	})
}

// later returns a case in which one soft finding was made at a greater age.
func later(t *rapid.T, c doubt.Case, which int) doubt.Case {
	c.Checks = append([]doubt.Check(nil), c.Checks...)
	c.Checks[which].LnAge += rapid.Float64Range(0, 2).Draw(t, "later by")
	return c
}

// One thing alone, whatever else was found of it: tacky later never speaks more for nothing wrong.
func TestTackyLaterIsNeverBetterNewsOfOneThing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := []doubt.Thing{rapid.SampledFrom(anyThing).Draw(t, "thing")}
		c := doubt.Case{Spread: drawSpread(t), Priors: drawPriors(t)}
		c.Checks = append(drawChecks(t, 0, of, anyFinding), drawCheck(t, of, soft))
		for i := range c.Checks { // an age that may be either side of another, by one gap, is not one age
			c.Checks[i].LnLess, c.Checks[i].LnMore = 0, 0
		}
		early := judge(t, c)
		late := judge(t, later(t, c, len(c.Checks)-1))
		if !early.Contradicts && !late.Contradicts {
			require.LessOrEqual(t, late.P[doubt.NothingWrong], early.P[doubt.NothingWrong]+rounding)
		}
	})
}

// notBetter requires that the odds of nothing wrong against a fault did not rise. They are compared without
// dividing: either may be zero.
func notBetter(t *rapid.T, early, late, earlyFault, lateFault float64) {
	require.LessOrEqual(t, late*earlyFault, early*lateFault+rounding)
}

// Cup and pour, none firm yet: the pour tacky later never speaks more for nothing wrong against a fault of
// surface or batch. (It may against a cup that is off alone: the pour is slow too. And with patch and mold
// both tacky it may a little against a surface that inhibits at one of them but does not show at the other.)
func TestPouredTackyLaterIsNeverBetterNews(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := doubt.Case{Spread: drawSpread(t), Priors: drawPriors(t)}
		pour := []doubt.Thing{rapid.SampledFrom(poured).Draw(t, "poured")}
		c.Checks = append(drawChecks(t, 0, append(pour, doubt.Cup), soft), drawCheck(t, pour, soft))
		for i := range c.Checks {
			c.Checks[i].LnLess, c.Checks[i].LnMore = 0, 0
		}
		early := judge(t, c)
		late := judge(t, later(t, c, len(c.Checks)-1))
		notBetter(t, early.P[doubt.NothingWrong], late.P[doubt.NothingWrong], early.P.Wrong(), late.P.Wrong())
	})
}

// A cup that is slow explains a slow patch: there the later finding is the better news, and that is right.
func TestSlowCupExplainsSlowPatch(t *testing.T) {
	c := doubt.Case{Spread: doubt.Spread{Shared: 0.3}, Checks: []doubt.Check{
		{Of: doubt.Patch, Found: doubt.Tacky, LnAge: math.Log(1.3)},
		{Of: doubt.Cup, Found: doubt.Tacky, LnAge: math.Log(0.5)},
	}}
	early := judge(t, c)
	c.Checks[1].LnAge = math.Log(1.3)
	late := judge(t, c)
	require.Greater(t, late.P[doubt.NothingWrong], early.P[doubt.NothingWrong])
	require.Less(t, late.P.Surface(), early.P.Surface())
	require.Greater(t, late.P.Batch(), early.P.Batch())
}

// Cup firm, patch tacky: the later the patch, the higher the odds of the surface against nothing wrong. Its
// probability rises too, but for what a batch with a false firm cup may take back once hardly anything is left.
func TestFirmCupAndTackyPatchRaiseSurface(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := doubt.Case{Spread: drawSpread(t), Surface: doubt.Surface{Prep: doubt.Prep(rapid.IntRange(0, 3).Draw(t, "prep"))}}
		c.Checks = []doubt.Check{
			{Of: doubt.Cup, Found: doubt.Firm, LnAge: rapid.Float64Range(-0.5, 1).Draw(t, "cup")},
			{Of: rapid.SampledFrom(poured).Draw(t, "poured"), Found: doubt.Tacky, LnAge: rapid.Float64Range(-1, 1).Draw(t, "age")},
		}
		early := judge(t, c)
		late := judge(t, later(t, c, 1))
		require.GreaterOrEqual(t, late.P.Surface(), early.P.Surface()-0.01)
		require.LessOrEqual(t, late.P[doubt.NothingWrong], early.P[doubt.NothingWrong]+rounding)
		notBetter(t, early.P[doubt.NothingWrong], late.P[doubt.NothingWrong], early.P.Surface(), late.P.Surface())
	})
}

// Whatever else is known, a thing last found tacky past the time by which nine in ten are firm is not let
// wait, nor called fine; nor is what is tacky while its cup is firm, nor a spoiled face, nor a surface on
// which a patch failed.
func TestPoisonedIsNotSlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		of := rapid.SampledFrom(anyThing).Draw(t, "late thing")
		edge := 1.2816 * math.Hypot(c.Spread.Shared, c.Spread.Own[of])
		last := edge + rapid.Float64Range(0, 2).Draw(t, "past")
		for _, k := range c.Checks {
			if k.Of == of {
				last = max(last, k.LnAge+1e-9)
			}
		}
		c.Checks = append(c.Checks, doubt.Check{Of: of, Found: doubt.Tacky, LnAge: last})
		require.NotContains(t, []doubt.Verdict{doubt.Wait, doubt.Fine}, judge(t, c).Verdict)
	})
	rapid.Check(t, func(t *rapid.T) {
		c := doubt.Case{Spread: drawSpread(t), Priors: drawPriors(t)}
		age := rapid.Float64Range(-2, 2).Draw(t, "cup firm at")
		c.Checks = []doubt.Check{
			{Of: doubt.Cup, Found: doubt.Firm, LnAge: age},
			{Of: rapid.SampledFrom(poured).Draw(t, "poured"), Found: doubt.Tacky, LnAge: age + rapid.Float64Range(0, 2).Draw(t, "later")},
		}
		require.NotContains(t, []doubt.Verdict{doubt.Wait, doubt.Fine}, judge(t, c).Verdict)
	})
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		c.Checks = append(c.Checks, doubt.Check{Of: doubt.Patch, Found: doubt.Spoiled})
		require.NotContains(t, []doubt.Verdict{doubt.Wait, doubt.Fine}, judge(t, c).Verdict)
	})
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		c.Surface.Patch = doubt.Failed
		require.NotContains(t, []doubt.Verdict{doubt.Wait, doubt.Fine}, judge(t, c).Verdict)
	})
}

// More cold and less prep raise the prior of the surface; a patch that vouches lowers it, one that saw a
// warmer place leaves it.
func TestSurfacePriorFollowsColdAndPatch(t *testing.T) {
	at := func(s doubt.Surface, coldK float64) float64 {
		return judge(t, doubt.Case{Surface: s, ColdK: coldK}).Prior.Surface()
	}
	require.InDelta(t, at(doubt.Surface{}, -3), at(doubt.Surface{}, 0), 1e-15)
	require.Greater(t, at(doubt.Surface{}, 5), at(doubt.Surface{}, 0))
	require.InDelta(t, at(doubt.Surface{}, 10), at(doubt.Surface{}, 14), 1e-15)
	passed := doubt.Surface{Prep: doubt.Risky, Patch: doubt.Passed, PatchColdK: 4}
	require.Less(t, at(passed, 5.9), 0.1)
	require.InDelta(t, at(doubt.Surface{Prep: doubt.Risky}, 6.1), at(passed, 6.1), 1e-15)
	require.Greater(t, at(doubt.Surface{Patch: doubt.Failed}, 0), 0.9)
	require.True(t, judge(t, doubt.Case{Surface: passed, ColdK: 6.1}).Unvouched)
	require.False(t, judge(t, doubt.Case{Surface: passed, ColdK: 5.9}).Unvouched)
}
