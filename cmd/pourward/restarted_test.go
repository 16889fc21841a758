package main

import (
	"fmt"
	"log/slog"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
)

// untimed is a request of n readings without a time, each warmer by a step than the one before, from a number of
// steps on.
func untimed(first, n int) string {
	var lines []string
	for i := range n {
		lines = append(lines, fmt.Sprintf(`{"probe": "p0", "temperature": %v}`, sensors.TempFromSteps(int64(first+i))))
	}
	return "[" + strings.Join(lines, ",") + "]"
}

// A probe pushes far more readings in one instant than it has milliseconds, and the daemon is started anew in
// the same instant. Every reading that was taken before and after is on record, once; one that would lie too far
// ahead of the clock is not taken, and is when it is sent again.
func TestReadingsPushedRightAfterARestart(t *testing.T) {
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"push.token": sharedToken})
	c, err := config.Parse(filepath.Join(dir, "annex.yml"), shopText("push: {token_file: push.token}\n", `push: {temperature_unit: "°C"}`))
	require.NoError(t, err)
	o, err := fromConfig(c, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	o.board = nil
	taken := 0
	synctest.Test(t, func(t *testing.T) {
		o.clock = sensors.RealClock{}
		begun := time.Now()
		push := func(r *rehearsal, n, want int) {
			require.Equal(t, want, post(r.pages, sharedToken, untimed(20_000+taken, n)).Code)
			if want == http.StatusAccepted {
				taken += n
			}
		}
		for _, n := range []int{250, 249, 248} {
			r := rehearse(t, o)
			push(r, n, http.StatusAccepted)
			push(r, 1, http.StatusAccepted)
			require.NoError(t, r.end())
		}
		require.Equal(t, begun, time.Now(), "all in one instant")
		r := rehearse(t, o)
		push(r, 256, http.StatusServiceUnavailable)
		time.Sleep(10 * time.Millisecond)
		push(r, 256, http.StatusAccepted)
		require.NoError(t, r.end())
	})
	_, readings := onRecord(t, c.Journal.File)
	times := map[int64]int{}
	for _, r := range readings {
		times[sensors.TempSteps(r.Temp.Value)]++
	}
	require.Len(t, times, taken, "of %d readings", len(readings))
	require.Len(t, readings, taken)
}
