package alerts_test

import (
	"bytes"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"
)

// run starts a checker of the Prometheus project. They are required: without them nothing outside this
// project judges the rules.
func run(t *testing.T, program, debianPackage string, args ...string) {
	t.Helper()
	path, err := exec.LookPath(program)
	require.NoError(t, err, "%s is missing: install Debian's %s package, which brings it", program, debianPackage)
	cmd := exec.CommandContext(t.Context(), path, args...)
	cmd.Env = append(os.Environ(), "TZ=UTC")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s %v:\n%s", program, args, bytes.TrimSpace(out))
}

func promtool(t *testing.T, args ...string) {
	t.Helper()
	run(t, "promtool", "prometheus", args...)
}

func TestPromtoolAcceptsTheRules(t *testing.T) {
	promtool(t, "check", "rules", "pourward.rules.yml")
}

// Each alert fires and does not fire, as the invented series in the file say.
func TestPromtoolRunsTheRules(t *testing.T) {
	promtool(t, "test", "rules", "pourward.rules.test.yml")
}

func TestExampleConfigurations(t *testing.T) {
	promtool(t, "check", "config", "prometheus.example.yml")
	run(t, "amtool", "prometheus-alertmanager", "check-config", "alertmanager.example.yml")
}
