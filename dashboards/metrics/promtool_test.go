package metrics_test

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"
)

// promtool runs Prometheus's own checker. It is required: without it nothing outside this project judges
// what is exported.
func promtool(t *testing.T, stdin io.Reader, args ...string) {
	t.Helper()
	path, err := exec.LookPath("promtool")
	require.NoError(t, err, "promtool is missing: install Debian's prometheus package, which brings it")
	cmd := exec.CommandContext(t.Context(), path, args...)
	cmd.Env = append(os.Environ(), "TZ=UTC")
	cmd.Stdin = stdin
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "promtool %v:\n%s", args, bytes.TrimSpace(out))
}

func TestPromtoolAcceptsTheExposition(t *testing.T) {
	f, err := os.Open("testdata/metrics.prom")
	require.NoError(t, err)
	defer f.Close()
	promtool(t, f, "check", "metrics")
}
