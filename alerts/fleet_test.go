package alerts_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// The examples for many shops, laid together as their README says.
func TestExamplesForManyShops(t *testing.T) {
	dir := t.TempDir()
	for from, to := range map[string]string{
		"pourward.rules.yml":             "pourward.rules.yml",
		"fleet/fleet.rules.yml":          "fleet.rules.yml",
		"fleet/shops.example.yml":        "shops.yml",
		"fleet/prometheus.example.yml":   "prometheus.yml",
		"fleet/central.example.yml":      "central.yml",
		"fleet/alertmanager.example.yml": "alertmanager.yml",
	} {
		text, err := os.ReadFile(from)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, to), text, 0o600))
	}
	promtool(t, "check", "config", filepath.Join(dir, "prometheus.yml"))
	promtool(t, "check", "config", filepath.Join(dir, "central.yml"))
	config := "--config.file=" + filepath.Join(dir, "alertmanager.yml")
	run(t, "amtool", "prometheus-alertmanager", "check-config", filepath.Join(dir, "alertmanager.yml"))
	for _, route := range [][]string{
		{"annex", "alertname=PourwardCoatDry", "severity=info", "shop=annex"},
		{"foundry", "alertname=PourwardWorkingLifeEnding", "severity=critical", "shop=foundry"},
		{"office,yard", "alertname=PourwardDaemonDown", "severity=critical", "shop=yard"},
		{"office", "alertname=PourwardDaemonDown", "severity=critical"},
		{"office", "alertname=PourwardCoatDry", "severity=info", "shop=without-a-route"},
	} {
		run(t, "amtool", "prometheus-alertmanager", append([]string{"config", "routes", "test", config, "--verify.receivers=" + route[0]}, route[1:]...)...)
	}
}

func TestPromtoolRunsTheRulesForManyShops(t *testing.T) {
	promtool(t, "test", "rules", "fleet/fleet.rules.test.yml")
}
