package loop_test

import (
	"context"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/journal"
	"pourward/model/loop"
	"pourward/sensors"
)

// board is a computer without a battery clock, in a synctest bubble: it counts from its boot, and its time
// of day is what it was last set to.
type board struct {
	id   string
	boot time.Time // by the bubble's clock

	mu      sync.Mutex // guards what follows
	wall    time.Time  // time of day at boot
	trusted bool
}

func (b *board) BootID() (string, error)           { return b.id, nil }
func (b *board) SinceBoot() (time.Duration, error) { return time.Since(b.boot), nil }

func (b *board) Wall() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.wall.Add(time.Since(b.boot))
}

func (b *board) Trusted() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.trusted
}

// set makes the time of day right by a time server.
func (b *board) set(to time.Time) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.wall = to.Add(-time.Since(b.boot))
	b.trusted = true
}

// night is a run of the shop on a board, on a real journal.
type night struct {
	t     *testing.T
	path  string
	board *board
	clock *sensors.BoardClock
	loop  *loop.Loop
	feed  chan sensors.Reading
	stop  func()
}

// wake boots the board and starts the daemon on it.
func wake(t *testing.T, path string, b *board) *night {
	ctx := context.Background()
	j, err := journal.Open(ctx, path, journal.Options{})
	require.NoError(t, err)
	_, last, err := j.Span(ctx)
	require.NoError(t, err)
	boots, err := j.Boots(ctx)
	require.NoError(t, err)
	clock, err := sensors.NewBoardClock(b, last, boots)
	require.NoError(t, err)
	l, err := loop.New(ctx, loop.Options{Setup: setup(), Record: j, Clock: clock, Tell: 15 * time.Minute})
	require.NoError(t, err)
	n := &night{t: t, path: path, board: b, clock: clock, loop: l, feed: make(chan sensors.Reading)}
	run, cancel := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- l.Run(run, n.feed) }()
	n.stop = func() {
		cancel()
		require.NoError(t, <-done)
		require.NoError(t, j.Close(ctx))
	}
	return n
}

// measure lets the shop stand at a temperature for a while.
func (n *night) measure(span time.Duration, tempC float64) {
	for end := time.Now().Add(span); time.Now().Before(end); time.Sleep(time.Minute) {
		n.feed <- sensors.Reading{Probe: "air", At: n.clock.Now(), Temp: sensors.GoodMeasure(tempC)}
	}
	synctest.Wait()
}

func (n *night) pour() {
	for _, m := range []model.Mark{{Kind: model.Begun, Place: "bench", Material: "platinum-slow"}, {Kind: model.Mixed}, {Kind: model.Poured}} {
		mark(n.t, n.loop, m)
	}
}

func (n *night) cure() model.Step {
	steps := n.loop.Snapshot().Outlook.Molds[0].Steps
	return steps[len(steps)-1]
}

func right() time.Time { return time.Date(2026, 1, 14, 18, 0, 0, 0, time.UTC) }

// A board that wakes up in the past and learns the time later: durations are right all the time, and
// the labels of this boot are put right once they are known.
func TestClockThatIsSetLaterDatesThisBootAnew(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &board{id: "one", boot: time.Now(), wall: time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)}
		n := wake(t, filepath.Join(t.TempDir(), "shop.journal"), b)
		defer n.stop()
		n.measure(time.Hour, 22.5)
		n.pour()
		n.measure(2*time.Hour, 22.5)
		require.InDelta(t, 0.5, n.cure().Share, 0.01)
		require.False(t, n.loop.Snapshot().Health.ClockTrusted)

		b.set(right())
		time.Sleep(time.Minute)
		synctest.Wait()
		got := n.cure()
		require.InDelta(t, 0.5, got.Share, 0.01, "the cure counts from the boot and takes no notice")
		require.WithinDuration(t, right().Add(-2*time.Hour), got.Begun, 2*time.Minute, "the pour is dated anew")
		require.WithinDuration(t, right().Add(2*time.Hour), got.Band.Likely, 10*time.Minute)
		require.True(t, n.loop.Snapshot().Health.ClockTrusted)
	})
}

// The time of day set back by two hours in the middle of a cure.
func TestStepBackwardTakesNothingBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &board{id: "one", boot: time.Now(), wall: right(), trusted: true}
		n := wake(t, filepath.Join(t.TempDir(), "shop.journal"), b)
		defer n.stop()
		n.measure(time.Hour, 22.5)
		n.pour()
		n.measure(2*time.Hour, 22.5)
		b.set(b.Wall().Add(-2 * time.Hour))
		time.Sleep(time.Minute)
		n.measure(2*time.Hour, 22.5)
		require.InDelta(t, 1, n.cure().Share, 0.01)
		require.WithinDuration(t, b.Wall().Add(-4*time.Hour), n.cure().Begun, 3*time.Minute)
	})
}

// After a power cut the board does not know the time: nothing that was begun before is called ready, and
// the working life is warned of, until the time is known.
func TestUntrustedRebootForbidsReady(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "shop.journal")
		b := &board{id: "one", boot: time.Now(), wall: right(), trusted: true}
		n := wake(t, path, b)
		n.measure(time.Hour, 22.5)
		n.pour()
		n.measure(time.Hour, 22.5)
		n.stop()

		time.Sleep(3 * time.Hour) // off, in the cold or in the warm: nobody knows
		again := &board{id: "two", boot: time.Now(), wall: right().Add(30 * time.Minute)}
		n = wake(t, path, again)
		n.measure(6*time.Hour, 22.5)
		got := n.cure()
		require.Equal(t, model.CannotSay, got.Standing, "seven hours of warmth were measured, but across an unknown time")
		require.Contains(t, got.Why[len(got.Why)-1], "nobody knows")

		again.set(right().Add(11 * time.Hour))
		time.Sleep(time.Minute)
		synctest.Wait()
		got = n.cure()
		require.Equal(t, model.Ready, got.Standing, "now the time off is known, and what was measured is enough")
		require.Contains(t, got.Why[0], "no readings for 3 h")
		n.stop()
	})
}

// A daemon that is started again in the same boot knows how long it was away, whatever the time of day says.
func TestRestartWithinABootKeepsItsLabel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "shop.journal")
		b := &board{id: "one", boot: time.Now(), wall: time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)}
		n := wake(t, path, b)
		n.measure(time.Hour, 22.5)
		n.pour()
		n.measure(time.Hour, 22.5)
		n.stop()
		time.Sleep(5 * time.Minute)
		n = wake(t, path, b)
		n.measure(time.Hour, 22.5)
		got := n.cure()
		require.InDelta(t, 0.52, got.Share, 0.01)
		require.NotEqual(t, model.CannotSay, got.Standing, "the boot is the same, so the time is known")
		n.stop()
	})
}

// A reading that was on its way when the label was moved carries the old label, and is dated like the rest.
func TestReadingOnItsWayIsDatedAnew(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, by := range []time.Duration{-3 * time.Hour, 5 * time.Hour} {
			b := &board{id: "one", boot: time.Now(), wall: time.Date(2026, 1, 14, 18, 0, 0, 0, time.UTC), trusted: true}
			n := wake(t, filepath.Join(t.TempDir(), "shop.journal"), b)
			n.measure(10*time.Minute, 20)
			old := n.clock.Now()
			b.set(b.Wall().Add(by))
			time.Sleep(11 * time.Second) // the loop notices
			synctest.Wait()
			require.WithinDuration(t, b.Wall(), n.clock.Now(), time.Second)
			n.feed <- sensors.Reading{Probe: "air", At: old, Temp: sensors.GoodMeasure(21)}
			n.stop() // tells what is known in the end
			at := n.loop.Snapshot().Outlook.Probes[0].Last
			require.WithinDuration(t, old.Add(by), at, time.Millisecond, "moved by %v", by)
		}
	})
}

// No time server was heard for so long that the kernel gives up on the time of day: what this boot counted is as right
// as before, also for a daemon that is started again.
func TestTrustOutlivesTheTimeServer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "shop.journal")
		b := &board{id: "one", boot: time.Now(), wall: right(), trusted: true}
		n := wake(t, path, b)
		n.measure(time.Hour, 22.5)
		n.pour()
		n.stop()

		time.Sleep(5 * time.Minute)
		again := &board{id: "two", boot: time.Now(), wall: right().Add(65 * time.Minute), trusted: true}
		n = wake(t, path, again)
		n.measure(time.Hour, 22.5)
		again.mu.Lock()
		again.trusted = false
		again.mu.Unlock()
		n.measure(time.Hour, 22.5)
		require.True(t, n.loop.Snapshot().Health.ClockTrusted)
		require.Equal(t, model.Running, n.cure().Standing)
		n.stop()
		n = wake(t, path, again)
		n.measure(time.Hour, 22.5)
		require.True(t, n.loop.Snapshot().Health.ClockTrusted)
		require.NotEqual(t, model.CannotSay, n.cure().Standing)
		n.stop()
	})
}
