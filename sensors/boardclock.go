package sensors

import (
	"context"
	"sync"
	"time"
)

// Board is what a computer says of its own time.
type Board interface {
	// BootID names this run of the kernel; another run has another name.
	BootID() (string, error)
	// SinceBoot is the time since the kernel started, time asleep included. Nothing sets it.
	SinceBoot() (time.Duration, error)
	// Wall is the time of day, which can be set and can be wrong.
	Wall() time.Time
	// Trusted reports whether the time of day is known to be right: set by a time server, or kept by a
	// battery clock.
	Trusted() bool
}

// BoardClock is a shop clock that no setting of the time of day can hurry or hold: it counts from the
// boot, and the time of day is only what it is labelled with. When the time of day is set, the label is
// wrong, and what was recorded under it in this boot has to be dated anew: see [BoardClock.Off].
type BoardClock struct {
	board Board
	boot  string

	mu     sync.Mutex // guards zero
	zero   time.Time  // the label of the boot
	failed time.Duration
}

// Boot is one run of the kernel as the record knows it.
type Boot struct {
	ID      string
	Zero    time.Time // the label of its beginning: label = Zero + time since boot
	First   time.Time // the label of the first thing recorded in it
	Trusted bool      // whether the label is known to be right
}

// Shift is one time at which labels turned out wrong and what was recorded under them was dated anew.
type Shift struct {
	Boot string        // the run of the kernel it was recorded in
	From time.Time     // everything from this old label on
	By   time.Duration // was moved by this, whole milliseconds
}

// Moved is the label by which something is known now that had another one before.
func (s Shift) Moved(label time.Time) time.Time {
	if label.Before(s.From) {
		return label
	}
	return label.Add(s.By)
}

// NewBoardClock starts the clock. last is the newest instant on record: a time of day before it, as a
// board without a battery clock wakes up with, is wrong, and the label goes on from last instead. known
// are the boots on record, so that a daemon that is started again in the same boot keeps its label.
func NewBoardClock(board Board, last time.Time, known []Boot) (*BoardClock, error) {
	id, err := board.BootID()
	if err != nil {
		return nil, err
	}
	since, err := board.SinceBoot()
	if err != nil {
		return nil, err
	}
	c := &BoardClock{board: board, boot: id, zero: board.Wall().Round(0).Add(-since)}
	for _, b := range known {
		if b.ID == id {
			c.zero = b.Zero
			return c, nil
		}
	}
	if !c.trusted() && c.zero.Add(since).Before(last) {
		c.zero = last.Add(time.Second).Add(-since)
	}
	return c, nil
}

// firstDay is the day that a clock shows which nobody has set, such as a battery clock with a dead battery.
const firstDay = 24 * 60 * 60 // seconds of Unix time

// trusted reports whether the time of day is to be believed.
func (c *BoardClock) trusted() bool { return c.board.Trusted() && c.board.Wall().Unix() > firstDay }

// Now is the label of this moment.
func (c *BoardClock) Now() time.Time {
	zero, since := c.read()
	return zero.Add(since)
}

// read returns the label of the boot, and the time since.
func (c *BoardClock) read() (zero time.Time, since time.Duration) {
	since, err := c.board.SinceBoot()
	c.mu.Lock()
	defer c.mu.Unlock()
	if err != nil { // the kernel does not fail here; a label that stands still is safe if it did
		since = c.failed
	}
	c.failed = since
	return c.zero, since
}

// Wait waits for as long as the label was from t when it was called: a label that is moved meanwhile
// neither hurries nor holds who waits. A computer's timers stand still while it sleeps, so it looks again
// at least every few seconds.
func (c *BoardClock) Wait(ctx context.Context, t time.Time) error {
	const look = 5 * time.Second
	zero, _ := c.read()
	for end := t.Sub(zero); ; {
		_, since := c.read()
		if since >= end {
			return ctx.Err()
		}
		if err := wait(ctx, min(end-since, look)); err != nil {
			return err
		}
	}
}

// Boot is this boot as it is labelled now; first is the label of the first thing recorded in it.
func (c *BoardClock) Boot(first time.Time) Boot {
	c.mu.Lock()
	defer c.mu.Unlock()
	return Boot{ID: c.boot, Zero: c.zero, First: first, Trusted: c.trusted()}
}

// stepLimit is the difference between label and time of day that counts as the time of day having been
// set. Slow steering by a time server moves both.
const stepLimit = time.Second

// Off reports by how much the label is behind the time of day, if that is to be believed: it is trusted,
// and was set. The label stays as it is until [BoardClock.Shift].
func (c *BoardClock) Off() (by time.Duration, off bool) {
	if !c.trusted() {
		return 0, false
	}
	by = c.board.Wall().Round(0).Sub(c.Now()).Round(time.Millisecond)
	return by, by > stepLimit || by < -stepLimit
}

// Shift moves the label, once what is recorded has been dated anew.
func (c *BoardClock) Shift(by time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.zero = c.zero.Add(by)
}
