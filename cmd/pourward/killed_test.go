package main

import (
	"cmp"
	"flag"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

var (
	kills    = flag.Int("kills", 12, "how often the daemon is killed")
	killSeed = flag.Uint64("kills.seed", 0, "seed that the instants are drawn from; 0 draws one")
)

// pushedConfig is a shop of four probes to which readings are pushed.
func pushedConfig(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	layTree(t, dir, map[string]string{"push.token": sharedToken})
	file := filepath.Join(dir, "annex.yml")
	require.NoError(t, os.WriteFile(file, shopText("listen: \"127.0.0.1:0\"\npush: {token_file: push.token}\n", `push: {}`, `push: {}`, `push: {}`, `push: {}`), 0o644))
	return file
}

// untilSafe is the preference of a sender who can send again.
const untilSafe = "wait=30"

// confirmed is what daemons confirmed before they were killed.
type confirmed struct {
	mu    sync.Mutex
	sent  int     // readings that were pushed, safe or not
	temps []int64 // of those that were confirmed as safe, in steps
	taken []int64 // of those that the shop has, but maybe not yet the disk
	marks int     // by number
	tried int     // marks that were entered, taken or not
}

// push pushes readings of a probe one after the other, each with another temperature, until the daemon is gone.
// The preference is to wait until a reading is safe, or none. A probe may have several senders.
func (c *confirmed) push(url, probe, prefer string) {
	for {
		c.mu.Lock()
		c.sent++
		steps := int64(15_000 + c.sent)
		c.mu.Unlock()
		r, err := http.NewRequest(http.MethodPost, url+pushPath, strings.NewReader(fmt.Sprintf(`{"probe": %q, "temperature": %v, "unit": "C"}`, probe, sensors.TempFromSteps(steps))))
		if err != nil {
			return
		}
		r.Header.Set("Authorization", "Bearer "+sharedToken)
		r.Header.Set("Prefer", prefer)
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			return
		}
		answer.Body.Close()
		c.mu.Lock()
		switch answer.StatusCode {
		case http.StatusOK:
			c.temps = append(c.temps, steps)
		case http.StatusAccepted:
			c.taken = append(c.taken, steps)
		}
		c.mu.Unlock()
	}
}

// mark enters marks until the daemon is gone, four to a mold. What does not fit since a kill took the mark before it is
// refused.
func (c *confirmed) mark(d *daemon) {
	for {
		c.mu.Lock()
		mold := fmt.Sprint("corbel-", c.tried/4)
		args := [][]string{{"-place", "bench", "-material", "platinum-slow", "begun"}, {"mixed"}, {"poured"}, {"demolded"}}[c.tried%4]
		c.tried++
		c.mu.Unlock()
		_, _, code := d.mark(append([]string{"-mold", mold}, args...)...)
		if code == 0 {
			c.mu.Lock()
			c.marks++
			c.mu.Unlock()
			continue
		}
		select {
		case <-d.ended:
			return
		default:
		}
	}
}

// killsOfAShop is how often the daemon of one shop is killed: as many marks within one day as hundreds of kills bring no
// shop has, and what molds teach each other is reckoned with each reading of that day.
const killsOfAShop = 25

// The daemon is killed at any instant, again and again on one journal, while several senders push readings
// and marks are entered. Every reading and mark that it confirmed as safe is on record, once.
func TestKilledDaemonKeepsWhatItConfirmed(t *testing.T) {
	t.Parallel()
	seed := cmp.Or(*killSeed, rand.Uint64())
	t.Logf("%d kills; repeat with -kills.seed=%d", *kills, seed)
	random := rand.New(rand.NewPCG(seed, 0))
	for left := *kills; left > 0; left -= killsOfAShop {
		killShop(t, random, min(left, killsOfAShop))
	}
}

// killShop kills the daemon of a new shop and judges what is on record.
func killShop(t *testing.T, random *rand.Rand, times int) {
	t.Helper()
	file := pushedConfig(t)
	var c confirmed
	for range times {
		d := serving(t, "serve", "-config", file)
		var busy sync.WaitGroup
		for i := range 8 {
			busy.Go(func() { c.push(d.url, fmt.Sprint("p", i/2), untilSafe) })
		}
		busy.Go(func() { c.mark(d) })
		<-time.After(time.Duration(random.IntN(2500)) * time.Millisecond)
		require.Equal(t, -1, d.signal(syscall.SIGKILL))
		busy.Wait()
	}
	marks, readings := onRecord(t, filepath.Join(filepath.Dir(file), "annex.journal"))
	kept := map[int64]int{}
	for _, r := range readings {
		kept[sensors.TempSteps(r.Temp.Value)]++
	}
	require.NotEmpty(t, c.temps)
	for _, steps := range c.temps {
		require.Equal(t, 1, kept[steps], "the reading of %v °C, one of %d that were confirmed", sensors.TempFromSteps(steps), len(c.temps))
	}
	require.GreaterOrEqual(t, len(marks), c.marks)
	require.LessOrEqual(t, len(marks), c.marks+times, "one at a kill may be safe and not confirmed")
	require.True(t, slices.IsSorted(marks))
	t.Logf("confirmed were %d of %d readings and %d marks; on record are %d and %d", len(c.temps), c.sent, c.marks, len(readings), len(marks))
}

// What the kills must find out: readings that are confirmed before they are safe. Without the preference to
// wait that is the promise, and a kill before the flush takes them.
func TestKilledDaemonForgetsWhatWasOnlyTaken(t *testing.T) {
	t.Parallel()
	file := pushedConfig(t)
	d := serving(t, "serve", "-config", file)
	r, err := http.NewRequest(http.MethodPost, d.url+pushPath, strings.NewReader(`{"probe": "p0", "temperature": 20, "unit": "C"}`))
	require.NoError(t, err)
	r.Header.Set("Authorization", "Bearer "+sharedToken)
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusAccepted, answer.StatusCode)
	require.EqualValues(t, 1, d.snapshot().Health.Readings)
	require.Equal(t, -1, d.signal(syscall.SIGKILL))
	_, readings := onRecord(t, filepath.Join(filepath.Dir(file), "annex.journal"))
	require.Empty(t, readings)
}
