package network

import (
	"context"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// set is a clock that may be ahead of the right time, and be set. What waits by it is neither hurried nor held.
type set struct {
	sensors.RealClock
	mu    sync.Mutex
	ahead time.Duration
}

func (c *set) to(ahead time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ahead = ahead
}

func (c *set) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return time.Now().Add(c.ahead).Round(0)
}

func (c *set) Wait(ctx context.Context, t time.Time) error {
	return c.RealClock.Wait(ctx, time.Now().Add(t.Sub(c.Now())))
}

// steps is a shelf that is scraped every ten seconds, with clocks that are set. Each temperature says by how many
// seconds after the start it was really taken.
type steps struct {
	*shelf
	begin time.Time
	clock *set // the shop's
	last  time.Time
}

func newSteps() *steps { return &steps{&shelf{}, time.Now(), &set{}, time.Time{}} }

// serverTo sets the server's clock.
func (s *steps) serverTo(ahead time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.ahead = ahead
}

// scrapes goes on for a while. Prometheus takes no sample before its last (its documentation, "out_of_order_time_window").
func (s *steps) scrapes(during time.Duration) {
	for end := time.Now().Add(during); time.Now().Before(end); time.Sleep(10 * time.Second) {
		if at := time.Now().Add(s.ahead); at.After(s.last) {
			s.scrape(at, time.Since(s.begin).Seconds()/1000, 50)
			s.last = at
		}
	}
}

// taken is when the temperatures told were really taken, in seconds after the start.
func (s *steps) taken(k *sink) (out []float64) {
	for _, c := range k.good("bench") {
		out = append(out, c*1000)
	}
	return out
}

func every10(from, to float64) (out []float64) {
	for at := from; at < to; at += 10 {
		out = append(out, at)
	}
	return out
}

func (s *steps) watched(t *testing.T, p QueryProbe) (k *sink, log *book, stop func()) {
	log = &book{}
	k, stop = s.watch(t, QueryOptions{Every: 10 * time.Second, Clock: s.clock, Probes: []QueryProbe{p}, Log: log.logger()})
	time.Sleep(time.Second)
	return k, log, stop
}

// The shop's clock was half an hour fast and is put right; the server's was right all along.
func TestTheShopsClockIsPutBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSteps()
		s.clock.to(30 * time.Minute)
		k, _, stop := s.watched(t, benchQuery())
		defer stop()
		s.scrapes(5 * time.Minute)
		s.clock.to(0)
		s.scrapes(5 * time.Minute)
		time.Sleep(20 * time.Second)
		require.InDeltaSlice(t, every10(1, 600), s.taken(k), 1e-6, "each once")
		require.InDeltaSlice(t, every10(1, 600), k.instants(s.begin), 1e-6, "at its own time")
	})
}

// Both run on a machine whose clock was half an hour fast. Put back, the server shows for half an hour what it had
// then: that is not told as if it were new, and the probe is told as failed until there is something new.
func TestTheClockOfBothIsPutBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSteps()
		s.clock.to(30 * time.Minute)
		s.serverTo(30 * time.Minute)
		k, _, stop := s.watched(t, benchQuery())
		defer stop()
		s.scrapes(time.Hour)
		s.clock.to(0)
		s.serverTo(0)
		before := len(k.good("bench"))
		s.scrapes(29 * time.Minute)
		require.Len(t, k.good("bench"), before)
		failed := k.failures("bench")
		require.InDelta(t, 29*6, len(failed), 8, "every round but those in which it was a minute at most")
		require.ErrorContains(t, failed[len(failed)-1], "one of the clocks was set back; samples are taken again from then on")
		s.scrapes(11 * time.Minute)
		time.Sleep(20 * time.Second)
		got := s.taken(k)
		require.InDeltaSlice(t, every10(1, 3600), got[:360], 1e-6, "each once")
		require.InDelta(t, 10*60/10, len(got)-360, 7, "and those that the server took since the half hour was over")
	})
}

// The shop's clock is set half an hour back by mistake: what the server has is refused, and had after all once the
// clock is right.
func TestTheShopsClockIsSetWrong(t *testing.T) {
	for _, wrong := range []time.Duration{-30 * time.Minute, -80 * time.Second} {
		synctest.Test(t, func(t *testing.T) {
			s := newSteps()
			k, _, stop := s.watched(t, benchQuery())
			defer stop()
			s.scrapes(5 * time.Minute)
			s.clock.to(wrong)
			before := len(k.good("bench"))
			s.scrapes(5 * time.Minute)
			require.Len(t, k.good("bench"), before)
			failed := k.failures("bench")
			require.InDelta(t, 5, len(failed), 1.5, "told once a minute")
			require.Equal(t, Ahead, refusalOf(failed[len(failed)-1]))
			s.clock.to(0)
			s.scrapes(5 * time.Minute)
			time.Sleep(20 * time.Second)
			require.InDeltaSlice(t, every10(1, 900), s.taken(k), 1e-6, "each once")
			require.InDeltaSlice(t, every10(1, 900), k.instants(s.begin), 1e-6, "at its own time")
		})
	}
}

// The server's clock was far ahead, and is put right: its right samples come at once.
func TestTheServersClockIsPutBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSteps()
		s.serverTo(2 * time.Hour)
		k, _, stop := s.watched(t, benchQuery())
		defer stop()
		s.scrapes(time.Minute)
		require.Empty(t, k.good("bench"))
		require.Len(t, k.failures("bench"), 2, "no data before the first scrape; then a refusal, told once a minute")
		s.serverTo(0)
		s.last = time.Time{} // its storage is emptied
		s.scrapes(time.Minute)
		time.Sleep(20 * time.Second)
		require.InDeltaSlice(t, every10(61, 120), s.taken(k), 1e-6)
	})
}

// A clock that was days ahead, or a record that was written under one, does not silence a probe until then.
func TestWhatWasTakenDaysAheadIsForgotten(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSteps()
		s.clock.to(48 * time.Hour)
		s.serverTo(48 * time.Hour)
		k, log, stop := s.watched(t, benchQuery())
		defer stop()
		s.scrapes(time.Minute)
		s.clock.to(0)
		s.serverTo(0)
		s.last = time.Time{}
		s.scrapes(time.Minute)
		time.Sleep(20 * time.Second)
		require.InDeltaSlice(t, every10(1, 120), s.taken(k), 1e-6)
		require.Equal(t, 1, strings.Count(log.String(), "the last sample lies ahead of the shop's clock"))
	})
	synctest.Test(t, func(t *testing.T) {
		s := newSteps()
		p := benchQuery()
		p.After = s.begin.Add(2 * time.Hour)
		k, log, stop := s.watched(t, p)
		defer stop()
		s.scrapes(time.Minute)
		time.Sleep(20 * time.Second)
		require.InDeltaSlice(t, every10(1, 60), s.taken(k), 1e-6)
		require.Equal(t, 1, strings.Count(log.String(), "the last sample lies ahead of the shop's clock"))
	})
}
