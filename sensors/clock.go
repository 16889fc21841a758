package sensors

import (
	"context"
	"time"
)

// RealClock is the board's own clock.
type RealClock struct{}

// Now returns the board's time.
func (RealClock) Now() time.Time { return time.Now() }

// Wait waits for t by the board's clock.
func (RealClock) Wait(ctx context.Context, t time.Time) error { return wait(ctx, time.Until(t)) }

// FastClock runs at a multiple of real time from a chosen instant. Make one with [NewFastClock].
type FastClock struct {
	begin time.Time // what it showed when it was started
	real  time.Time // when it was started, by the board's clock
	speed float64
}

// NewFastClock starts a clock that shows begin now and gains speed seconds a real second; speed must
// be above zero.
func NewFastClock(begin time.Time, speed float64) *FastClock {
	return &FastClock{begin: begin, real: time.Now(), speed: speed}
}

// Now returns the clock's time.
func (c *FastClock) Now() time.Time {
	return c.begin.Add(time.Duration(float64(time.Since(c.real)) * c.speed))
}

// Wait waits until the clock shows t.
func (c *FastClock) Wait(ctx context.Context, t time.Time) error {
	return wait(ctx, time.Duration(float64(t.Sub(c.Now()))/c.speed))
}

func wait(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
