package main

import (
	"bytes"
	"maps"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
)

// rung are the alerts of the demo's narration so far, by its own evaluation.
func (d *daemon) rung() map[string]bool {
	rung := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)  ALERT ([^:]+): `).FindAllStringSubmatch(d.out.String(), -1) {
		rung[m[1]] = true
	}
	return rung
}

// begin marks a mold begun, and what is done to it next.
func (d *daemon) begin(mold string, next ...[]string) {
	d.t.Helper()
	d.marked("-mold", mold, "-place", "bench", "-material", "platinum-slow", "begun")
	for _, args := range next {
		d.marked(append([]string{"-mold", mold}, args...)...)
	}
}

// Everything between the probe and whoever is called, with a real Prometheus and a real Alertmanager:
// what the daemon's own evaluation calls out is held by the Alertmanager, by the same names and labels,
// and nothing else is. The frieze of the demo has a maker who goes on at once; the other molds wait.
func TestAlertsArriveAtARealAlertmanager(t *testing.T) {
	t.Parallel() // it waits more than it works
	const speed = "1200"
	a := startAlertmanager(t)
	args := []string{"demo", "-speed", speed, "-dir", t.TempDir()}
	d := serving(t, append(args, "-listen", "127.0.0.1:0")...)
	address := strings.TrimPrefix(d.url, "http://")
	p := startPrometheus(t, address, hastened(t, 1200), a.address)

	d.begin("lintel", []string{"-material", "lacquer", "coat-on"})
	d.begin("rosette", []string{"-material", "wax-naphtha", "release-on"})
	d.begin("tile", []string{"mixed"})
	d.begin("corbel", []string{"mixed"}, []string{"poured"})
	first := []string{"PourwardCoatDry lintel coat-1", "PourwardReleaseDry rosette release", "PourwardWorkingLifeOver tile batch-1"}
	arrive(t, d, a, first...)
	promtoolChecks(t, d)

	// The daemon is down: that is noticed, and what it called out before is not taken back.
	require.Zero(t, d.signal(syscall.SIGTERM))
	eventually(t, "its end is noticed", func() bool { return a.held()["PourwardDaemonDown"] })
	require.True(t, p.finds(`up{job="pourward"} == 0`))
	require.Subset(t, slices.Collect(maps.Keys(a.held())), first)

	// Started again, it goes on where it stopped.
	d = serving(t, append(args, "-listen", address)...)
	require.Len(t, d.snapshot().Molds, 5)
	arrive(t, d, a, append(first, "PourwardDemoldReady corbel cure", "PourwardShopTooCold bench")...)
	eventually(t, "that it is back", func() bool { return !a.held()["PourwardDaemonDown"] })

	// Its cup is firm, its edge is tacky: the surface inhibits. That rings, and it is not ready any more.
	d.marked("-mold", "corbel", "-of", "cup", "-found", "firm", "checked")
	d.marked("-mold", "corbel", "-of", "mold", "-found", "tacky", "checked")
	arrive(t, d, a, append(first, "PourwardDoubtful corbel cure")...)
	eventually(t, "it is not ready any more", func() bool { return !a.held()["PourwardDemoldReady corbel cure"] })
	eventually(t, "every alert held was called out by the daemon", func() bool {
		held := a.held()
		for _, x := range alerts.Table() {
			if x.RuleOnly() {
				delete(held, x.Name)
			}
		}
		for name := range d.rung() {
			delete(held, name)
		}
		return len(held) == 0
	})

	require.Zero(t, d.signal(syscall.SIGTERM))
	p.stop()
	a.stop()
}

// arrive waits until the daemon has called out all of the alerts and the Alertmanager holds them at once.
func arrive(t *testing.T, d *daemon, a *alertmanager, want ...string) {
	t.Helper()
	for _, name := range want {
		eventually(t, "the daemon calls out "+name, func() bool { return d.rung()[name] })
	}
	eventually(t, "the Alertmanager holds "+strings.Join(want, ", "), func() bool {
		held := a.held()
		return !slices.ContainsFunc(want, func(name string) bool { return !held[name] })
	})
}

// promtoolChecks puts the live metrics before the checker of the Prometheus project.
func promtoolChecks(t *testing.T, d *daemon) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), program(t, "promtool", "prometheus"), "check", "metrics")
	cmd.Stdin = bytes.NewReader(d.get("/metrics"))
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "promtool check metrics:\n%s", out)
	require.Empty(t, string(out))
}
