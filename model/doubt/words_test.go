package doubt_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/doubt"
)

func TestWords(t *testing.T) {
	for findings, want := range map[string]string{
		"":                              "nothing was touched yet.",
		"cup firm 1.1;patch tacky 2.1":  "cup firm, patch tacky at 2.1 times its time: the surface inhibits.",
		"cup tacky 0.5;patch tacky 0.5": "cup and patch tacky, both before the earliest time: wait.",
		"cup tacky 0.5;patch tacky 0.5;mold tacky 0.5": "cup, patch and mold tacky, all before the earliest time: wait.",
		"patch tacky 0.5":                           "patch tacky before its earliest time: wait.",
		"cup tacky 1.1":                             "cup tacky at 1.1 times its time: wait.",
		"cup tacky 2.5;mold tacky 2.4":              "cup tacky at 2.5 times its time, mold tacky at 2.4 times its time: the batch is bad.",
		"mold tacky 2.5":                            "mold tacky at 2.5 times its time: something is wrong, the surface or the batch; only the cup can tell which.",
		"cup firm 1.2":                              "cup firm: the batch cures; what was poured was not touched yet.",
		"cup firm 1.2;patch firm 1.3":               "cup firm, patch firm: nothing speaks against it.",
		"cup tacky 2.5;mold firm 1.5":               "cup tacky at 2.5 times its time, mold firm: the cup's leftover may be off alone, by scrapings or by its wall; go by what was poured.",
		"patch tacky 1.2;patch surface spoiled 1.4": "patch surface spoiled: cannot say yet; the surface is in doubt.",
	} {
		r := record{"findings": findings, "shared": "0.2", "prep": "untold", "patch_before": "none"}
		require.Equal(t, want, judge(t, parseCase(t, r)).Words().Said, findings)
	}
}

// Whatever was found, there is a sentence and something to do, no clock time, and a caution with every solvent.
func TestWordsAreAlwaysThere(t *testing.T) {
	clock := regexp.MustCompile(`\d:\d\d|\bo'clock\b`)
	rapid.Check(t, func(t *rapid.T) {
		w := judge(t, drawCase(t)).Words()
		require.NotEmpty(t, w.Said)
		require.NotEmpty(t, w.Do)
		all := w.Said + strings.Join(w.Do, "\n")
		require.NotRegexp(t, clock, all)
		if strings.Contains(all, "Clean off") {
			require.Contains(t, w.Cautions, doubt.CautionCleaning)
		}
	})
}

func TestUnvouchedPatchIsTold(t *testing.T) {
	c := doubt.Case{ColdK: 6, Surface: doubt.Surface{Patch: doubt.Passed}}
	require.Contains(t, strings.Join(judge(t, c).Words().Do, "\n"), "does not vouch here")
}

func TestFailedPatchIsTold(t *testing.T) {
	c := doubt.Case{Surface: doubt.Surface{Patch: doubt.Failed}}
	require.Equal(t, "an earlier patch failed on this surface, and no firm edge clears it.", judge(t, c).Words().Said)
}

func TestBatchCausesComeInOrder(t *testing.T) {
	p := doubt.DefaultPriors()
	p.Aged = 0.3
	causes := p.Causes()
	require.Len(t, causes, 4)
	require.Contains(t, causes[0], "age of the parts")
	require.Contains(t, causes[1], "ratio")
}

func TestNextTouchInWords(t *testing.T) {
	n := doubt.Next{Of: doubt.Patch, LnAge: 0.3365, Tacky: doubt.Outlook{Verdict: doubt.Inhibited}, Firm: doubt.Outlook{Verdict: doubt.Fine}}
	require.Equal(t, "Touch the patch at 1.4 times its time: if tacky, the surface inhibits; if firm, nothing is wrong.", n.Words())
	n.Tacky.Verdict, n.Firm.Verdict = doubt.BadBatch, doubt.CannotSay
	require.Equal(t, "Touch the patch at 1.4 times its time: if tacky, the batch is bad; if firm, it stays open.", n.Words())
	n.Tacky.Verdict = doubt.Wait
	require.Contains(t, n.Words(), "if tacky, wait on")
}

// The materials every mold maker is warned of are on the list (common practice, no source).
func TestRiskyMaterials(t *testing.T) {
	var all strings.Builder
	for _, m := range doubt.RiskyMaterials() {
		require.NotEmpty(t, m.Name)
		require.NotEmpty(t, m.Why)
		require.NotEmpty(t, m.Remedy)
		all.WriteString(m.Name + "\n")
	}
	for _, want := range []string{"sulfur", "tin-cure", "polyurethane rubber", "latex", "vulcanized", "masking tape", "not dry", "prints", "aloe"} {
		require.Contains(t, all.String(), want)
	}
	require.Contains(t, doubt.NoListIsComplete, "test a patch")
	require.Equal(t, "common practice, no source", doubt.Practice)
}

// Seal and patch again, then another material, then two steps; tin and isocyanate where they come in.
func TestRoutes(t *testing.T) {
	routes := doubt.Routes()
	require.Len(t, routes, 3)
	require.Contains(t, routes[0].Cautions, doubt.CautionCleaning)
	require.Contains(t, routes[1].Cautions, doubt.CautionTinApart)
	require.Contains(t, routes[2].Cautions, doubt.CautionTinApart)
	require.Contains(t, routes[2].Cautions, doubt.CautionIsocyanate)
	for _, r := range routes {
		require.Contains(t, strings.ToLower(strings.Join(r.Steps, " ")), "patch")
	}
}

func TestNames(t *testing.T) {
	require.Equal(t, "thing 9", doubt.Thing(9).String())
	require.Equal(t, "finding 9", doubt.Finding(9).String())
	require.Equal(t, "prep 9", doubt.Prep(9).String())
	require.Equal(t, "hypothesis 9", doubt.Hypothesis(9).String())
	require.Equal(t, "no verdict", doubt.Verdict(9).String())
	require.Equal(t, doubt.BatchBad, doubt.Probabilities{0.1, 0.2, 0.4, 0.2, 0.1}.Likeliest())
}
