package main

import (
	"bytes"
	"os/exec"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// planned asks the daemon for a plan with the command.
func (d *daemon) planned(args ...string) (out, errs string, code int) {
	d.t.Helper()
	var o, e bytes.Buffer
	cmd := exec.CommandContext(d.t.Context(), "pourward", append([]string{"plan", "-to", d.url}, args...)...)
	cmd.Stdout, cmd.Stderr = &o, &e
	_ = cmd.Run() // the exit code says it
	return o.String(), e.String(), cmd.ProcessState.ExitCode()
}

// The demo's annex is cold: a plan for the day after tomorrow is told as text, with what heat would buy.
func TestPlanOfTheAnnex(t *testing.T) {
	t.Parallel() // it waits more than it works
	d := serving(t, "demo", "-speed", "1", "-dir", t.TempDir(), "-listen", "127.0.0.1:0")
	var out, errs string
	var code int
	eventually(t, "the bench is measured, and a plan comes", func() bool {
		out, errs, code = d.planned("-by", "2026-01-16 17:00", "-place", "bench", "-work", "mon-fri 08:00-18:00", "-heat", "22 °C", "2 lacquer, wax-naphtha, platinum-slow")
		return code == 0
	})
	require.Regexp(t, `(?m)^(Begin by|Not by|Cannot say)`, out)
	require.Regexp(t, `(?m)^At 22\.0 °C from now on: `, out)
	require.Regexp(t, `(?m)^planned +eight in ten +what +of +when$`, out)
	require.Regexp(t, `(?m) Seal coat 2 +lacquer `, out)
	require.Contains(t, out, "Never leave a heater alone with solvent")
	require.Contains(t, out, "safety data sheet decides")

	_, errs, code = d.planned("-by", "soon", "platinum-slow")
	require.Equal(t, 1, code)
	require.Equal(t, "pourward plan: Cannot read \"soon\" as a time to come; write 17:00, tomorrow 17:00, Fri 17:00, in 20 h or 2025-11-28 17:00.\n", errs)

	require.Contains(t, string(d.get("/plan?by=in+40+h&course=platinum-slow")), "Mix and pour")
	require.Zero(t, d.signal(syscall.SIGTERM))
}
