package main

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// questions are the expressions that a committed dashboard asks, as for a visitor who chose nothing.
func questions(t *testing.T, file string) map[string]string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "dashboards", "grafana", file))
	require.NoError(t, err)
	var d struct {
		Panels []struct {
			Title   string
			Targets []struct{ Expr, RefID string }
		}
	}
	require.NoError(t, json.Unmarshal(text, &d))
	out := map[string]string{}
	for _, p := range d.Panels {
		for _, q := range p.Targets {
			out[file+", "+p.Title+", "+q.RefID] = strings.NewReplacer("$shop", ".+", "$instance", ".+", "$__rate_interval", "10s").Replace(q.Expr)
		}
	}
	require.NotEmpty(t, out)
	return out
}

// unanswered are the questions to which the demo has no answer, and why.
func unanswered() map[string]string {
	return map[string]string{
		"bench.json, Probes of one place that differ, A": "each of the demo's places has one probe",
		"bench.json, Where no band can be told, A":       "every step that the demo's materials take there has a band, or is closed",
	}
}

// fleeting are the questions that the demo answers for some time of its day only, and why a slow machine may miss it.
// They are asked, so that a server has read them, and not waited for.
func fleeting() map[string]string {
	return map[string]string{
		"bench.json, Until it turns fit, A": "the annex promises a fit hour by day alone, while something still dries there",
	}
}

// furnish begins molds in a demo that its maker would not come to in time: one for each thing that a
// dashboard tells of.
func furnish(d *daemon) {
	d.t.Helper()
	d.begin("lintel", []string{"-material", "lacquer", "coat-on"})
	d.begin("corbel", []string{"mixed"}, []string{"poured"})
	d.marked("-mold", "corbel", "-of", "cup", "-found", "tacky", "checked")
	d.marked("-mold", "p1", "-place", "bench", "-face", "plaster", "-material", "platinum-slow", "patch-on")
	d.marked("-mold", "p2", "-place", "bench", "-face", "oil clay", "-prep", "lacquer", "-material", "platinum-slow", "-at", "12 h ago", "patch-on")
	d.marked("-mold", "p2", "-of", "patch", "-found", "firm", "checked")
}

// asking is what one server has not answered yet.
type asking struct {
	at   *prometheus
	open map[string]string
}

// boardsAreFilled puts every question of the dashboards to a real server, until each has been answered with
// something: what is true for a moment only is waited for.
func boardsAreFilled(t *testing.T, region, central *prometheus) {
	t.Helper()
	all := []asking{{region, questions(t, "bench.json")}, {region, questions(t, "fleet.json")}, {central, questions(t, "fleet.json")}}
	for name := range unanswered() {
		require.False(t, region.finds(all[0].open[name]), "%s: is answered after all", name)
		delete(all[0].open, name)
	}
	for name := range fleeting() {
		require.Contains(t, all[0].open, name)
		region.finds(all[0].open[name])
		delete(all[0].open, name)
	}
	t.Cleanup(func() {
		for _, a := range all {
			if len(a.open) > 0 {
				t.Logf("%s never answered %v", a.at.address, slices.Sorted(maps.Keys(a.open)))
			}
		}
	})
	var asked time.Time
	eventually(t, "the dashboards are filled", func() bool {
		if time.Since(asked) < time.Second/4 { // the servers have else to do
			return false
		}
		left := 0
		for _, a := range all {
			for name, expr := range a.open {
				if a.at.finds(expr) {
					delete(a.open, name)
				}
			}
			left += len(a.open)
		}
		asked = time.Now()
		return left == 0
	})
}
