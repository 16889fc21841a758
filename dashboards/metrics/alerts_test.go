package metrics_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/dashboards/metrics"
	"pourward/model"
	"pourward/model/doubt"
)

// Alert expressions are plain text; these tests tie the names in them to what is exported.

var (
	metricName = regexp.MustCompile(`pourward_[a-z_]+`)
	selector   = regexp.MustCompile(`(pourward_[a-z_]+)\{([^}]*)\}`)
	matcher    = regexp.MustCompile(`([a-z_]+)=~?"([^"]*)"`)
)

func TestAlertsAskForWhatIsExported(t *testing.T) {
	byName := map[string]metrics.Metric{}
	for _, m := range metrics.Table() {
		byName[m.Name] = m
	}
	for _, d := range alerts.Table() {
		for _, name := range metricName.FindAllString(d.Expr, -1) {
			require.Contains(t, byName, name, d.Name)
		}
		for _, sel := range selector.FindAllStringSubmatch(d.Expr, -1) {
			for _, m := range matcher.FindAllStringSubmatch(sel[2], -1) {
				require.Contains(t, byName[sel[1]].Labels, m[1], "%s selects %s", d.Name, sel[0])
			}
		}
	}
}

// A matcher with a misspelled state would never fire and never fail.
func TestAlertsSelectStatesThatExist(t *testing.T) {
	states := map[string][]string{
		"kind": {string(model.CoatDry), string(model.ReleaseDry), string(model.WorkingLife), string(model.LayerWindow), string(model.DemoldTime)},
	}
	for _, s := range model.Standings() {
		states[metrics.StepStanding] = append(states[metrics.StepStanding], string(s))
	}
	for _, c := range model.ReasonCodes() {
		states["reason"] = append(states["reason"], string(c))
	}
	for v := doubt.Verdict(0); v.String() != "no verdict"; v++ {
		states[metrics.MoldVerdict] = append(states[metrics.MoldVerdict], v.String())
	}
	for _, s := range model.RecordStates() {
		states[metrics.JournalState] = append(states[metrics.JournalState], string(s))
	}
	selected := map[string]int{}
	for _, d := range alerts.Table() {
		for _, m := range matcher.FindAllStringSubmatch(d.Expr, -1) {
			for _, state := range strings.Split(m[2], "|") {
				if all, known := states[m[1]]; known {
					require.Contains(t, all, state, "%s: %s", d.Name, m[1])
					selected[m[1]]++
				}
			}
		}
	}
	for label := range states {
		require.NotZero(t, selected[label], label)
	}
}
