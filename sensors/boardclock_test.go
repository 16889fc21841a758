package sensors

import (
	"context"
	"errors"
	"math"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// wallBoard is a computer in a synctest bubble that was asleep for a while, during which timers stood still.
type wallBoard struct {
	boot    time.Time
	asleep  atomic.Int64 // ns
	wall    time.Time    // at boot
	trusted bool
	err     error
}

func (b *wallBoard) BootID() (string, error) { return "one", b.err }
func (b *wallBoard) SinceBoot() (time.Duration, error) {
	return time.Since(b.boot) + time.Duration(b.asleep.Load()), b.err
}
func (b *wallBoard) Wall() time.Time {
	return b.wall.Add(time.Since(b.boot) + time.Duration(b.asleep.Load()))
}
func (b *wallBoard) Trusted() bool { return b.trusted }

func evening() time.Time { return time.Date(2026, 1, 14, 18, 0, 0, 0, time.UTC) }

func TestLabelGoesOnFromTheRecordWhenTheClockIsInThePast(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		last := evening()
		past := &wallBoard{boot: time.Now(), wall: time.Unix(0, 0)}
		c, err := NewBoardClock(past, last, nil)
		require.NoError(t, err)
		require.True(t, c.Now().After(last), "nothing is recorded twice under one label")
		_, off := c.Off()
		require.False(t, off, "a time of day that is not trusted is no reason to move the label")

		right := &wallBoard{boot: time.Now(), wall: last.Add(time.Hour), trusted: true}
		c, err = NewBoardClock(right, last, nil)
		require.NoError(t, err)
		require.WithinDuration(t, last.Add(time.Hour), c.Now(), 0)
	})
}

func TestSameBootKeepsItsLabel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &wallBoard{boot: time.Now(), wall: time.Unix(0, 0)}
		time.Sleep(time.Hour)
		zero := evening().Add(-time.Hour)
		c, err := NewBoardClock(b, evening(), []Boot{{ID: "other"}, {ID: "one", Zero: zero}})
		require.NoError(t, err)
		require.Equal(t, evening(), c.Now().UTC())
		require.Equal(t, Boot{ID: "one", Zero: zero, First: evening()}, c.Boot(evening()))
	})
}

func TestStepIsSeenOnceAndSteeringIsNone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &wallBoard{boot: time.Now(), wall: evening(), trusted: true}
		c, err := NewBoardClock(b, time.Time{}, nil)
		require.NoError(t, err)
		b.wall = b.wall.Add(900 * time.Millisecond)
		_, off := c.Off()
		require.False(t, off)
		for _, by := range []time.Duration{time.Hour, -3 * time.Hour, 365 * 24 * time.Hour} {
			before := c.Now()
			b.wall = b.wall.Add(by)
			require.Equal(t, before, c.Now(), "setting the time of day moves nothing by itself")
			got, off := c.Off()
			require.True(t, off)
			c.Shift(got)
			_, off = c.Off()
			require.False(t, off)
			require.WithinDuration(t, b.Wall(), c.Now(), time.Millisecond)
		}
	})
}

// Timers stand still while a computer sleeps; the boot clock does not.
func TestWaitSeesThatTheComputerWasAsleep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &wallBoard{boot: time.Now(), wall: evening(), trusted: true}
		c, err := NewBoardClock(b, time.Time{}, nil)
		require.NoError(t, err)
		until := c.Now().Add(8 * time.Hour)
		go func() {
			time.Sleep(time.Minute)
			b.asleep.Store(int64(8 * time.Hour))
		}()
		begun := time.Now()
		require.NoError(t, c.Wait(t.Context(), until))
		require.Less(t, time.Since(begun), 70*time.Second, "it woke after a minute of timers, not after eight hours of them")
		_, off := c.Off()
		require.False(t, off, "sleep is no step")

		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		require.ErrorIs(t, c.Wait(ctx, c.Now().Add(time.Hour)), context.Canceled)
	})
}

func TestBoardThatTellsNothingIsAnError(t *testing.T) {
	_, err := NewBoardClock(&wallBoard{err: errors.New("no such file")}, time.Time{}, nil)
	require.ErrorContains(t, err, "no such file")
}

// The temperature rises by 0.6 K a minute for ten minutes while the time of day is set by an hour, forward or
// back, in between: by the boot clock its integral is 23 °C times a sixth of an hour, 3.8333 °C·h (worked by
// hand). By the time of day it would be 26.53 °C·h after an hour forward.
func TestIntegralThroughAStep(t *testing.T) {
	for _, step := range []time.Duration{time.Hour, -200 * time.Second} {
		synctest.Test(t, func(t *testing.T) {
			b := &wallBoard{boot: time.Now(), wall: evening(), trusted: true}
			c, err := NewBoardClock(b, time.Time{}, nil)
			require.NoError(t, err)
			degreeHours, last, lastC := 0.0, time.Time{}, 0.0
			for k := range 11 {
				tempC := 20 + 0.6*float64(k)
				now := c.Now()
				if k > 0 {
					degreeHours += (lastC + tempC) / 2 * now.Sub(last).Hours()
				}
				last, lastC = now, tempC
				if k == 5 {
					b.wall = b.wall.Add(step)
				}
				time.Sleep(time.Minute)
			}
			require.InDelta(t, 23.0/6, degreeHours, 1e-9)
		})
	}
}

// Whoever waits is neither held nor hurried by a label that is moved meanwhile.
func TestMovedLabelDoesNotTouchAWait(t *testing.T) {
	for _, by := range []time.Duration{-3 * time.Hour, 3 * time.Hour} {
		synctest.Test(t, func(t *testing.T) {
			c, err := NewBoardClock(&wallBoard{boot: time.Now(), wall: evening(), trusted: true}, time.Time{}, nil)
			require.NoError(t, err)
			begun, done := time.Now(), make(chan error)
			go func() { done <- c.Wait(t.Context(), c.Now().Add(time.Minute)) }()
			time.Sleep(10 * time.Second)
			c.Shift(by)
			require.NoError(t, <-done)
			require.Equal(t, time.Minute, time.Since(begun))
		})
	}
}

// steadyProbe measures the same each time, a little wobbling.
type steadyProbe struct{ n int }

func (p *steadyProbe) Sense(context.Context) (Sample, error) {
	p.n++
	return Sample{TempC: 18 + float64(p.n%7)/100, Humidity: math.NaN()}, nil
}

func (*steadyProbe) Close() error { return nil }

// The label is moved to before the poller began: every probe is asked on in its rhythm.
func TestMovedLabelDoesNotTouchTheRhythm(t *testing.T) {
	for _, by := range []time.Duration{-3*time.Hour - 40*time.Second, -61 * time.Second, 3 * time.Hour} {
		synctest.Test(t, func(t *testing.T) {
			c, err := NewBoardClock(&wallBoard{boot: time.Now(), wall: evening(), trusted: true}, time.Time{}, nil)
			require.NoError(t, err)
			p := &Poller{Clock: c}
			for _, name := range []string{"bench", "shelf"} {
				probe := &steadyProbe{}
				p.Probes = append(p.Probes, Polled{Name: name, Every: 5 * time.Minute, Open: func(context.Context) (Probe, error) { return probe, nil }})
			}
			asked := map[string]int{}
			out, done := make(chan Reading), make(chan error)
			ctx, cancel := context.WithCancel(t.Context())
			go func() { done <- p.Run(ctx, out) }()
			count := func(d time.Duration) {
				clear(asked)
				for end := time.After(d); ; {
					select {
					case r := <-out:
						asked[r.Probe]++
					case <-end:
						return
					}
				}
			}
			count(22 * time.Minute)
			c.Shift(by)
			count(time.Hour)
			for _, name := range []string{"bench", "shelf"} {
				require.InDelta(t, 12, asked[name], 1, "%s after %v", name, by)
			}
			cancel()
			<-done
		})
	}
}

// A battery clock whose battery is dead shows the first day of 1970, and the kernel takes it for the time.
func TestFirstDayIsNotBelieved(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dead := &wallBoard{boot: time.Now(), wall: time.Unix(0, 0), trusted: true}
		c, err := NewBoardClock(dead, evening(), nil)
		require.NoError(t, err)
		require.True(t, c.Now().After(evening()), "it goes on from the record")
		require.False(t, c.Boot(c.Now()).Trusted)
		_, off := c.Off()
		require.False(t, off)
		dead.wall = evening().Add(time.Hour)
		by, off := c.Off()
		require.True(t, off)
		require.InDelta(t, time.Hour, by, float64(2*time.Second))
	})
}
