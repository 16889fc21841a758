package doubt_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model/doubt"
)

// parseFinding reads "patch surface spoiled 1.2".
func parseFinding(t *testing.T, s string) doubt.Check {
	t.Helper()
	words := strings.Fields(s)
	age, err := strconv.ParseFloat(words[len(words)-1], 64)
	require.NoError(t, err, s)
	k := doubt.Check{LnAge: math.Log(age)}
	known := 0
	for _, of := range []doubt.Thing{doubt.Cup, doubt.Patch, doubt.Mold} {
		if of.String() == words[0] {
			k.Of, known = of, known+1
		}
	}
	for _, f := range []doubt.Finding{doubt.Firm, doubt.Tacky, doubt.Liquid, doubt.Spoiled} {
		if f.String() == strings.Join(words[1:len(words)-1], " ") {
			k.Found, known = f, known+1
		}
	}
	require.Equal(t, 2, known, s)
	return k
}

func parseCase(t *testing.T, r record) doubt.Case {
	t.Helper()
	c := doubt.Case{Spread: doubt.Spread{Shared: r.number(t, "shared")}}
	for prep := range doubt.Prep(4) {
		if prep.String() == r["prep"] {
			c.Surface.Prep = prep
		}
	}
	c.Surface.Patch = map[string]doubt.Outcome{"none": doubt.NoPatch, "passed": doubt.Passed, "failed": doubt.Failed}[r["patch_before"]]
	for s := range strings.SplitSeq(r["findings"], ";") {
		if s != "" {
			c.Checks = append(c.Checks, parseFinding(t, s))
		}
	}
	return c
}

func TestVerdicts(t *testing.T) {
	for _, r := range table(t, "verdicts.csv") {
		j := judge(t, parseCase(t, r))
		require.Equal(t, r["verdict"], j.Verdict.String(), "%v: %.3f", r, j.P)
	}
}

// The spread decides: the same cup and patch that are only slow in a cold shop speak of a fault in one
// whose temperature is known to be right.
func TestColdExcuses(t *testing.T) {
	checks := []doubt.Check{{Of: doubt.Cup, Found: doubt.Tacky, LnAge: math.Log(1.4)}, {Of: doubt.Patch, Found: doubt.Tacky, LnAge: math.Log(1.4)}}
	sure := judge(t, doubt.Case{Spread: doubt.Spread{Shared: 0.12}, Checks: checks})
	unsure := judge(t, doubt.Case{Spread: doubt.Spread{Shared: 0.4}, Checks: checks})
	require.Equal(t, doubt.CannotSay, sure.Verdict)
	require.Greater(t, sure.P.Batch(), 0.5)
	require.Equal(t, doubt.Wait, unsure.Verdict)
}

// A gap that may have added nothing takes the edge off a finding.
func TestGapExcuses(t *testing.T) {
	c := doubt.Case{Spread: doubt.Spread{Shared: 0.2}, Checks: []doubt.Check{{Of: doubt.Cup, Found: doubt.Tacky, LnAge: math.Log(1.35)}}}
	require.Equal(t, doubt.PastTime, judge(t, c).Seen[doubt.Cup].Due)
	require.Equal(t, doubt.CannotSay, judge(t, c).Verdict)
	c.Checks[0].LnLess = 0.5
	j := judge(t, c)
	require.Equal(t, doubt.NearTime, j.Seen[doubt.Cup].Due)
	require.Equal(t, doubt.Wait, j.Verdict)
}

// Where priors leave no room for what was found, that is told and nothing is believed.
func TestContradiction(t *testing.T) {
	p := bare()
	c := doubt.Case{Priors: &p, Checks: []doubt.Check{{Of: doubt.Cup, Found: doubt.Firm}, {Of: doubt.Cup, Found: doubt.Tacky, LnAge: 1}}}
	j := judge(t, c)
	require.True(t, j.Contradicts)
	require.Equal(t, doubt.CannotSay, j.Verdict)
	require.Equal(t, j.Prior, j.P)
	require.Contains(t, j.Words().Said, "contradict")
	_, ok, err := c.Settle([]doubt.Reachable{{Of: doubt.Cup}})
	require.NoError(t, err)
	require.False(t, ok)
}

func TestImpossibleCasesAreRefused(t *testing.T) {
	nan := math.NaN()
	tacky := func(k doubt.Check) []doubt.Check { k.Found = doubt.Tacky; return []doubt.Check{k} }
	priors := func(change func(*doubt.Priors)) *doubt.Priors {
		p := doubt.DefaultPriors()
		change(&p)
		return &p
	}
	for want, c := range map[string]doubt.Case{
		"spread":            {Spread: doubt.Spread{Shared: -0.1}},
		"spread NaN":        {Spread: doubt.Spread{Shared: nan}},
		"spread 3":          {Spread: doubt.Spread{Own: [3]float64{3}}},
		"the cold":          {ColdK: nan},
		"101 findings":      {Checks: make([]doubt.Check, 101)},
		"no cure age":       {Checks: tacky(doubt.Check{LnAge: nan})},
		"finding 1":         {Checks: tacky(doubt.Check{LnAge: math.Inf(1)})},
		"less":              {Checks: tacky(doubt.Check{LnLess: -1})},
		"more":              {Checks: tacky(doubt.Check{LnMore: math.Inf(1)})},
		"not a thing":       {Checks: tacky(doubt.Check{Of: 9})},
		"thing 9":           {Checks: []doubt.Check{{Of: 9, Found: 9}}},
		"spoiled":           {Checks: []doubt.Check{{Of: doubt.Cup, Found: doubt.Spoiled}}},
		"prep 9":            {Surface: doubt.Surface{Prep: 9}},
		"outcome 9":         {Surface: doubt.Surface{Patch: 9}},
		"not a probability": {Priors: priors(func(p *doubt.Priors) { p.Ratio = 1.1 })},
		"half doublings":    {Priors: priors(func(p *doubt.Priors) { p.SurfaceDelay.Most = 1 })},
		"multiplies":        {Priors: priors(func(p *doubt.Priors) { p.VouchFactor = 0 })},
		"at least 0.1 K":    {Priors: priors(func(p *doubt.Priors) { p.ColdDoublesK = 0 })},
		"gel":               {Priors: priors(func(p *doubt.Priors) { p.GelShare = 0 })},
	} {
		_, err := c.Judge()
		require.ErrorContains(t, err, want)
		_, _, err = c.Settle(nil)
		require.ErrorContains(t, err, want)
	}
	_, _, err := doubt.Case{}.Settle([]doubt.Reachable{{Of: doubt.Cup, LnAge: nan}})
	require.ErrorContains(t, err, "cannot be touched")
}
