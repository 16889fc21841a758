package grafana

import (
	"fmt"
	"strings"

	"github.com/grafana/grafana-foundation-sdk/go/cog/variants"

	"pourward/dashboards/metrics"
)

type dashboardQuery = variants.Dataquery

// chosen selects a metric of the shops and daemons that the visitor chose.
func chosen(metric string, more ...string) string {
	return metric + "{" + strings.Join(append([]string{`shop=~"$shop"`, `instance=~"$instance"`}, more...), ", ") + "}"
}

// recorded selects what the rules recorded of the shops that the visitor chose.
func recorded(rule string, more ...string) string {
	return rule + "{" + strings.Join(append([]string{`shop=~"$shop"`}, more...), ", ") + "}"
}

// until is how long it is to an instant, by the shop clock.
func until(instant string) string {
	return fmt.Sprintf("%s - on (instance, job) group_left () %s", instant, chosen(metrics.ShopClock))
}

// since is how long it is from an instant, by the shop clock. There must be one a daemon.
func since(instant string) string {
	return fmt.Sprintf("%s - on (instance, job) %s", chosen(metrics.ShopClock), instant)
}

// holding gives the place in the list of the state that holds, of a metric with one series a state.
func holding(metric string, states []state) string {
	var parts []string
	for i, s := range states {
		parts = append(parts, fmt.Sprintf("%s * %d", chosen(metric, fmt.Sprintf("%s=%q", metric, s.word)), i))
	}
	return fmt.Sprintf("max without (%s) (\n  %s\n)", metric, strings.Join(parts, "\n  or "))
}

// firing are the alerts that fire now.
func firing() string {
	return chosen("ALERTS", `alertname=~"Pourward.+"`, `alertstate="firing"`)
}

// flag are the words of a metric that is 0 or 1.
func flag(no, yes state) []state { return []state{no, yes} }
