package main

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/model"
	"pourward/model/material"
	"pourward/sensors"
)

// steppedBoard is a computer in the bubble whose time of day is what it was set to.
type steppedBoard struct {
	id   string
	boot time.Time

	mu      sync.Mutex // guards what follows
	off     time.Duration
	trusted bool
}

func (b *steppedBoard) BootID() (string, error)           { return b.id, nil }
func (b *steppedBoard) SinceBoot() (time.Duration, error) { return time.Since(b.boot), nil }

func (b *steppedBoard) Trusted() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.trusted
}

func (b *steppedBoard) Wall() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return time.Now().Add(b.off)
}

// set sets the time of day, as somebody does who says that it is right.
func (b *steppedBoard) set(off time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.off, b.trusted = off, true
}

// steppedProbe measures 22.5 °C, and from an instant on a cold shed where it has one.
type steppedProbe struct {
	cold time.Time // zero: never
	n    int
}

// Sense implements [sensors.Probe].
func (p *steppedProbe) Sense(context.Context) (sensors.Sample, error) {
	p.n++
	c := 22.5
	if !p.cold.IsZero() && time.Now().After(p.cold) {
		c = 5
	}
	return sensors.Sample{TempC: c + float64(p.n%7)/100, Humidity: math.NaN()}, nil
}

// Close implements [sensors.Probe].
func (*steppedProbe) Close() error { return nil }

// evening is a shop in which a coat dries, a batch lives, a cure goes on and a shed has just become cold when the
// clock is set, half an hour after the start.
type evening struct {
	t     *testing.T
	begun time.Time // by the bubble's clock, which nobody sets
	opts  shopOptions
	board *steppedBoard
	shop  *rehearsal
	rang  map[string]time.Duration // after the start, by alert and whether it began or ended; the first time counts
}

func beginEvening(t *testing.T) *evening {
	t.Helper()
	e := &evening{t: t, begun: time.Now(), rang: map[string]time.Duration{}}
	e.opts = shopOptions{
		name: "Evening", zone: time.UTC, journal: filepath.Join(t.TempDir(), "evening.journal"),
		tell: 2 * time.Minute, log: slog.New(slog.DiscardHandler), sources: e.sources, watch: e.watch,
		setup: model.Setup{Places: []string{"bench", "shed"}, Zone: time.UTC, Shelf: material.Generic(), Probes: []model.Probe{
			{Name: "air", Place: "bench", Every: time.Minute}, {Name: "cold", Place: "shed", Every: time.Minute}}},
	}
	e.wake(&steppedBoard{id: "one", boot: time.Now(), trusted: true})
	time.Sleep(5 * time.Minute)
	for _, m := range []model.Mark{
		{Mold: "corbel", Kind: model.Begun, Place: "bench", Material: "platinum-fast"}, {Mold: "corbel", Kind: model.Mixed}, {Mold: "corbel", Kind: model.Poured},
		{Mold: "door", Kind: model.Begun, Place: "shed", Material: "platinum-fast"},
		{Mold: "arch", Kind: model.Begun, Place: "bench", Material: "platinum-fast"}, {Mold: "base", Kind: model.Begun, Place: "bench", Material: "platinum-fast"},
	} {
		e.mark(m)
	}
	e.until(15 * time.Minute)
	e.mark(model.Mark{Mold: "arch", Kind: model.ReleaseOn, Material: "wax-naphtha"})
	e.until(27 * time.Minute)
	e.mark(model.Mark{Mold: "base", Kind: model.Mixed})
	e.until(30 * time.Minute)
	return e
}

// wake starts the daemon on a board.
func (e *evening) wake(b *steppedBoard) {
	e.board, e.opts.board = b, b
	e.shop = rehearse(e.t, e.opts)
}

func (e *evening) mark(m model.Mark) {
	e.t.Helper()
	_, err := e.shop.Mark(e.t.Context(), m)
	require.NoError(e.t, err)
}

func (e *evening) until(after time.Duration) {
	time.Sleep(time.Until(e.begun.Add(after)))
	synctest.Wait()
}

func (e *evening) sources(_ context.Context, _ past, clock sensors.Clock) ([]sensors.Source, error) {
	p := &sensors.Poller{Clock: clock}
	for i, probe := range []*steppedProbe{{}, {cold: e.begun.Add(25 * time.Minute)}} {
		p.Probes = append(p.Probes, sensors.Polled{Name: e.opts.setup.Probes[i].Name, Every: time.Minute,
			Open: func(context.Context) (sensors.Probe, error) { return probe, nil }})
	}
	return []sensors.Source{p}, nil
}

func (e *evening) watch(_ *model.Snapshot, changes []alerts.Change) {
	for _, c := range changes {
		what := fmt.Sprint(c.Alert.Name, " ", c.Alert.Labels["mold"], c.Alert.Labels["probe"], c.Alert.Labels["place"])
		if c.Ended {
			what += " ended"
		}
		if _, rang := e.rang[what]; !rang {
			e.rang[what] = time.Since(e.begun)
		}
	}
}

// steps are how far the time of day is set, at an instant: all, or those that differ most; fewer under the race detector.
func steps(now time.Time, all bool) map[string]time.Duration {
	out := map[string]time.Duration{"forward by 1 h": time.Hour}
	if all || !raced {
		out["back by 1 d"] = -24 * time.Hour
	}
	if raced {
		return out
	}
	out["to 1970"] = time.Unix(0, 0).Sub(now)
	out["to 2038"] = time.Unix(math.MaxInt32+1, 0).Sub(now) // where 32 bits of seconds end
	if !all {
		return out
	}
	for name, by := range map[string]time.Duration{"1 s": time.Second, "1 min": time.Minute, "1 h": time.Hour, "1 d": 24 * time.Hour, "1 y": 365 * 24 * time.Hour} {
		out["forward by "+name], out["back by "+name] = by, -by
	}
	return out
}

// evenings runs an evening in a bubble for every step.
func evenings(t *testing.T, all bool, run func(*testing.T, *evening, time.Duration)) {
	for name, by := range steps(time.Date(2000, 1, 1, 0, 30, 0, 0, time.UTC), all) { // the bubble's clock then
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				e := beginEvening(t)
				run(t, e, by)
				require.NoError(t, e.shop.end())
			})
		})
	}
}

// undisturbed is when what rings in an evening in which nobody sets the clock.
func undisturbed(t *testing.T) (rang map[string]time.Duration) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		e := beginEvening(t)
		e.until(75 * time.Minute)
		require.NoError(t, e.shop.end())
		rang = e.rang
	})
	for _, what := range []string{"PourwardReleaseDry arch", "PourwardWorkingLifeOver base", "PourwardDemoldReady corbel", "PourwardShopTooCold shed"} {
		require.Greater(t, rang[what], 30*time.Minute, what)
	}
	return rang
}

// The time of day is set while a coat dries, a batch lives, a cure goes on and an alert is held back: everything rings
// when it would have rung, by a clock that nobody sets, and nothing else does.
func TestClockThatIsSetInTheMiddle(t *testing.T) {
	want := undisturbed(t)
	evenings(t, true, func(t *testing.T, e *evening, by time.Duration) {
		e.board.set(by)
		e.until(75 * time.Minute)
		for what, at := range want {
			require.Contains(t, e.rang, what)
			require.InDelta(t, at.Minutes(), e.rang[what].Minutes(), 2.2, what)
		}
		require.Len(t, e.rang, len(want), "%v", e.rang)
	})
}

// The power fails for two minutes, and the board wakes up with another time of day, which it does not trust: nobody
// knows for how long it was off. Nothing from before is called ready, the working life is warned of, and once the
// time is known what is ready is called so.
func TestClockThatIsLostInAPowerCut(t *testing.T) {
	evenings(t, false, func(t *testing.T, e *evening, by time.Duration) {
		require.NoError(t, e.shop.end())
		time.Sleep(2 * time.Minute)
		e.wake(&steppedBoard{id: "two", boot: time.Now(), off: by})
		e.until(75 * time.Minute)
		require.NotContains(t, e.rang, "PourwardReleaseDry arch")
		require.NotContains(t, e.rang, "PourwardDemoldReady corbel")
		require.Contains(t, e.rang, "PourwardWorkingLifeEnding base")
		for _, m := range e.shop.Snapshot().Outlook.Molds {
			if m.Name == "corbel" {
				cure := m.Steps[len(m.Steps)-1]
				require.Equal(t, model.CannotSay, cure.Standing)
				require.Contains(t, fmt.Sprint(cure.Why), "nobody knows")
			}
		}
		e.board.set(0)
		e.until(78 * time.Minute)
		require.Contains(t, e.rang, "PourwardReleaseDry arch")
		require.Contains(t, e.rang, "PourwardDemoldReady corbel")
	})
}

// The same with a battery clock that is wrong and trusted: nothing is called ready before its time. What it says is
// believed: up to an hour ahead looks like as long without power in a warm shop, which nobody can tell apart.
func TestClockThatIsWrongAfterAPowerCut(t *testing.T) {
	want := undisturbed(t)
	evenings(t, false, func(t *testing.T, e *evening, by time.Duration) {
		require.NoError(t, e.shop.end())
		time.Sleep(2 * time.Minute)
		e.wake(&steppedBoard{id: "two", boot: time.Now(), off: by, trusted: true})
		e.until(75 * time.Minute)
		for _, what := range []string{"PourwardReleaseDry arch", "PourwardDemoldReady corbel"} {
			if at, rang := e.rang[what]; rang {
				slack := 2 * time.Minute // between two outlooks
				if by > 0 && by <= time.Hour {
					slack += by
				}
				require.GreaterOrEqual(t, at+slack, want[what], what)
			}
		}
	})
}
