package forecast

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What the forecaster must reach on measured climates. The goals are this project's own.
const (
	coverageLow, coverageHigh = 0.75, 0.88 // with two weeks of history
	coverageYoung             = 0.72       // at any age
	widthGoal                 = 1.20       // times the narrowest baseline that holds as often
	leadGoal                  = 1.10       // times the best baseline's hourly error
	hallError, hallP90        = 0.09, 0.20 // demold time told at pouring
	// shortDays of record hold too few independent cures to judge a share by: these climates are reported only.
	shortDays = 60
)

// goals collects what was reached and what was missed.
type goals struct{ met, missed []string }

func (g *goals) check(ok bool, format string, args ...any) {
	line := fmt.Sprintf(format, args...)
	if ok {
		g.met = append(g.met, line)
	} else {
		g.missed = append(g.missed, line)
	}
}

// climatesToScore leaves out most of them under the race detector, which slows this tenfold.
func climatesToScore(t *testing.T) ([]Series, ScoreOptions) {
	t.Helper()
	climates := measuredClimates(t)
	if len(climates) == 0 {
		t.Log("the measured climates are not beside the repository (../shared/data): nothing scored")
	}
	if raceDetector {
		climates = slices.DeleteFunc(climates, func(s Series) bool { return s.Name != "house living" })
		return climates, ScoreOptions{EveryHours: 9, Paths: 100, NeedHours: []float64{16, 48}}
	}
	return climates, ScoreOptions{EveryHours: 6}
}

func TestScoreOnMeasuredClimates(t *testing.T) {
	climates, options := climatesToScore(t)
	var g goals
	for _, s := range climates {
		r := Score(s, options)
		t.Log(r)
		judge(&g, r)
		compare(t, r)
	}
	t.Logf("%d goals met; missed: %s", len(g.met), strings.Join(g.missed, "; "))
	require.Empty(t, g.missed)
}

func judge(g *goals, r Report) {
	for _, l := range r.Leads {
		if l.LeadHours <= 24 {
			g.check(l.AgainstBest() <= leadGoal, "%s: error %d h ahead %.2f of the best baseline's", r.Name, l.LeadHours, l.AgainstBest())
		}
	}
	for _, c := range r.Cures {
		if r.Days >= shortDays {
			g.check(c.Coverage >= coverageLow && c.Coverage <= coverageHigh, "%s: a cure of %.0f h held %.3f", r.Name, c.NeedHours, c.Coverage)
		}
		if name, narrowest := narrowestLike(c); name != "" {
			g.check(c.WidthHours <= widthGoal*narrowest, "%s: a cure of %.0f h, band %.2f of %s", r.Name, c.NeedHours, c.WidthHours/narrowest, name)
		}
		if strings.HasPrefix(r.Name, "hall") && c.NeedHours == 16 && !raceDetector {
			g.check(c.MeanError <= hallError && c.P90Error <= hallP90, "%s: demold time off by %.3f, nine in ten %.3f", r.Name, c.MeanError, c.P90Error)
		}
		for i := 1; i < len(c.Aging) && r.Days >= shortDays; i++ {
			g.check(c.Aging[i].MeanError < c.Aging[i-1].MeanError, "%s: a cure of %.0f h foreseen no better at %.2f", r.Name, c.NeedHours, c.Aging[i].Done)
		}
	}
}

// compare logs two harder comparisons than the goals: persistence of the very newest reading, and the width the best
// baseline would have needed for the forecast's own coverage had its best constant ratio been known beforehand.
func compare(t *testing.T, r Report) {
	t.Helper()
	for _, l := range r.Leads[:2] {
		t.Logf("%s: error %d h ahead %.2f of that of the newest reading standing still", r.Name, l.LeadHours, l.ForecastK/l.NewestK)
	}
	for _, c := range r.Cures {
		narrowest := math.Inf(1)
		for _, b := range c.Baselines {
			narrowest = min(narrowest, b.MatchedWidthHours)
		}
		t.Logf("%s: a cure of %.0f h, band %.2f of the narrowest matched in hindsight", r.Name, c.NeedHours, c.WidthHours/narrowest)
	}
}

// narrowestLike is the narrowest baseline band that held at least as often, empty when none did.
func narrowestLike(c CureScore) (name string, width float64) {
	width = math.Inf(1)
	for _, b := range c.Baselines {
		if b.Coverage >= c.Coverage && b.WidthHours < width {
			name, width = b.Name, b.WidthHours
		}
	}
	return name, width
}

func TestScoreYoungInstalls(t *testing.T) {
	climates, options := climatesToScore(t)
	options.NeedHours = []float64{16, 48}
	var g goals
	for _, s := range climates {
		for _, y := range ScoreYoung(s, options) {
			g.check(y.Coverage >= coverageYoung, "%s at %.0f h of age, a cure of %.0f h: %.2f of %d", s.Name, y.AgeHours, y.NeedHours, y.Coverage, y.Count)
			t.Logf("%-16s known for %3.0f h, a cure of %2.0f h: held %.2f of %3d, width %.1f h", s.Name, y.AgeHours, y.NeedHours, y.Coverage, y.Count, y.WidthHours)
		}
	}
	t.Logf("%d goals met; missed: %s", len(g.met), strings.Join(g.missed, "; "))
	require.Empty(t, g.missed)
}

// The engine's own persistence must agree with what is known of these halls: told at pouring, a cure of 16 h that
// doubles per 10 K is off by 12.8 % in hall A and 13.0 % in hall B, and nine in ten are within 26.9 and 26.8 %.
// Source: an independent calculation on the same records (HeatHack data book).
func TestScorePersistenceAgreesWithTheYardstick(t *testing.T) {
	if raceDetector {
		t.Log("left to the run without the race detector")
		return
	}
	want := map[string][2]float64{"hall A": {0.128, 0.269}, "hall B": {0.130, 0.268}}
	for _, s := range measuredClimates(t) {
		if w, ok := want[s.Name]; ok {
			c := Score(s, ScoreOptions{NeedHours: []float64{16}}).Cures[0]
			require.InDelta(t, w[0], c.Baselines[basePersistence].MeanError, 0.01, s.Name)
			require.InDelta(t, w[1], c.Baselines[basePersistence].P90Error, 0.02, s.Name)
		}
	}
}

// A shop that never changes is foreseen exactly.
func TestScoreOfAConstantShop(t *testing.T) {
	var readings []Reading
	for _, r := range shop(40, 30*60*1e9, 1) {
		readings = append(readings, Reading{r.At, 13})
	}
	r := Score(Series{Name: "constant", Readings: readings}, ScoreOptions{NeedHours: []float64{16}, EveryHours: 12})
	require.InDelta(t, 0, r.Leads[0].ForecastK, 1e-12)
	c := r.Cures[0]
	require.Less(t, c.MeanError, 1e-3)
	require.InDelta(t, 1, c.Coverage, 1e-9)
	require.Less(t, c.WidthHours, 3.0)
}
