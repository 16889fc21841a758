package alerts_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
)

// The demands on an alert are those of the Prometheus documentation ("Alerting", practices) and of common
// practice in published rule sets: a common prefix, three severities, a summary that is one sentence and
// the same for all instances, a description.
func TestEveryRowIsWhole(t *testing.T) {
	seen := map[string]bool{}
	rank := map[alerts.Severity]int{alerts.Critical: 0, alerts.Warning: 1, alerts.Info: 2}
	last := 0
	for _, d := range alerts.Table() {
		require.Regexp(t, regexp.MustCompile(`^Pourward([A-Z][a-z]+)+$`), d.Name)
		require.False(t, seen[d.Name], d.Name)
		seen[d.Name] = true
		require.Contains(t, rank, d.Severity, d.Name)
		require.GreaterOrEqual(t, rank[d.Severity], last, "%s: the most urgent come first", d.Name)
		last = rank[d.Severity]
		for _, text := range []string{d.Meaning, d.When, d.WhatToDo, d.Summary, d.Description} {
			require.Regexp(t, regexp.MustCompile(`(?s)^(\p{Lu}|\{\{).*\.$`), text, d.Name)
		}
		require.Equal(t, 1, strings.Count(d.Summary, "."), "%s: the summary is one sentence", d.Name)
		require.NotContains(t, d.Summary, "{{", "%s: the summary is the same for every instance", d.Name)
		require.NotEmpty(t, d.Expr, d.Name)
	}
}

// Instants are compared with the shop clock. time() is Prometheus's own.
func TestNoRuleReadsPrometheusTime(t *testing.T) {
	for _, d := range alerts.Table() {
		require.NotContains(t, d.Expr, "time()", d.Name)
	}
}

// An alert that waits must bridge a missed scrape. The two that watch the daemon from outside want to see
// the missed scrape.
func TestWaitingRulesBridgeAMissedScrape(t *testing.T) {
	for _, d := range alerts.Table() {
		waits := d.For > 0 && !d.RuleOnly()
		bridges := strings.Contains(d.Expr, `(ALERTS{alertname="`+d.Name+`", alertstate="pending"}) * NaN`)
		require.Equal(t, waits, bridges, d.Name)
	}
}

// Whatever the daemon sees must go on firing while it is not heard.
func TestWhatFiresIsKeptWhileTheDaemonIsNotHeard(t *testing.T) {
	for _, d := range alerts.Table() {
		if !d.RuleOnly() {
			require.Contains(t, d.Expr, `(ALERTS{alertname="`+d.Name+`", alertstate="firing"}) * NaN`, d.Name)
			require.Contains(t, d.Expr, "unless on (instance, job) pourward_shop_clock_timestamp_seconds", d.Name)
		}
	}
}

func TestGuideHasASectionForEveryAlert(t *testing.T) {
	var guide strings.Builder
	require.NoError(t, alerts.WriteGuide(&guide))
	for _, d := range alerts.Table() {
		require.Contains(t, guide.String(), "\n## "+d.Name+"\n")
		require.Contains(t, guide.String(), "(#"+d.Anchor()+")")
	}
}
