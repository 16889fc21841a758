package metrics_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/dashboards/metrics"
	"pourward/model"
	"pourward/model/doubt"
)

// values returns what a metric exports of s, by one of its labels.
func values(t *testing.T, s *model.Snapshot, name, by string) map[string]float64 {
	t.Helper()
	out := map[string]float64{}
	for _, f := range families(t, s) {
		for _, m := range f.GetMetric() {
			for _, l := range m.GetLabel() {
				if f.GetName() == name && l.GetName() == by {
					out[l.GetValue()] = m.GetGauge().GetValue()
				}
			}
		}
	}
	return out
}

// The words of causes and verdicts are those of the judgement itself, all of them and no other.
func TestDoubtInTheWordsOfTheJudgement(t *testing.T) {
	var causes, verdicts []string
	for _, h := range doubt.Hypotheses() {
		causes = append(causes, h.String())
	}
	for v := doubt.Verdict(0); v.String() != "no verdict"; v++ {
		verdicts = append(verdicts, v.String())
	}
	require.ElementsMatch(t, causes, keys(values(t, annex(), metrics.MoldCause, "cause")))
	require.ElementsMatch(t, verdicts, keys(values(t, annex(), metrics.MoldVerdict, metrics.MoldVerdict)))
	for _, v := range verdicts {
		s := annex()
		s.Outlook.Molds[1].Doubt.Verdict = v
		require.Equal(t, 1.0, values(t, s, metrics.MoldVerdict, metrics.MoldVerdict)[v])
	}
}

func keys(m map[string]float64) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	return out
}

func TestCausesSumToOne(t *testing.T) {
	sum := 0.0
	for _, p := range values(t, annex(), metrics.MoldCause, "cause") {
		sum += p
	}
	require.Equal(t, 1.0, sum)
}

// Nothing is told of a touch that did not happen, or that is not worth the walk.
func TestNothingTouchedNothingToldOfIt(t *testing.T) {
	s := annex()
	s.Outlook.Molds[1].Doubt.Next = ""
	require.Equal(t, map[string]float64{"cornice": 0}, values(t, s, metrics.MoldAdvised, "mold"))
	s.Outlook.Molds[1].Doubt, s.Outlook.Molds[1].Marks = nil, nil
	for _, name := range []string{metrics.MoldLastTouch, metrics.MoldVerdict, metrics.MoldCause, metrics.MoldAdvised, metrics.MoldNextTouch} {
		require.Empty(t, values(t, s, name, "mold"), name)
	}
}

// A probe alone at its place has nothing to disagree with.
func TestDifferenceOnlyWhereTwoProbesSit(t *testing.T) {
	require.Equal(t, map[string]float64{"bench": 1.75}, values(t, annex(), metrics.PlaceDifference, "place"))
	s := annex()
	s.Outlook.Places[0].OffProbe, s.Outlook.Places[0].OffK = "", 0
	require.Equal(t, map[string]float64{"bench": 0}, values(t, s, metrics.PlaceDifference, "place"), "they agree")
	require.Empty(t, values(t, s, metrics.PlaceDiffering, "place"))
	s.Outlook.Places[0].Known = false
	require.Empty(t, values(t, s, metrics.PlaceDifference, "place"), "nobody knows")
}
