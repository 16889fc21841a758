package metrics_test

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/dashboards/metrics"
	"pourward/model"
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
	standings := []string{}
	for _, s := range model.Standings() {
		standings = append(standings, string(s))
	}
	selected := 0
	for _, d := range alerts.Table() {
		for _, m := range matcher.FindAllStringSubmatch(d.Expr, -1) {
			if m[1] != metrics.StepStanding {
				continue
			}
			for _, state := range regexp.MustCompile(`\|`).Split(m[2], -1) {
				require.True(t, slices.Contains(standings, state), "%s: %q", d.Name, state)
				selected++
			}
		}
	}
	require.GreaterOrEqual(t, selected, 5)
}
