package sensors

import (
	"context"
	"io"
	"math"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"
	"pgregory.net/rapid"
)

// bench is a bus whose probes follow a script. It notices calls that overlap and probes left open.
type bench struct {
	t      require.TestingT
	busy   atomic.Bool
	opened atomic.Int64
	closed atomic.Int64
}

func (b *bench) enter() func() {
	require.True(b.t, b.busy.CompareAndSwap(false, true), "two calls on one bus")
	return func() { b.busy.Store(false) }
}

func (b *bench) everyOneClosed() { require.Equal(b.t, b.opened.Load(), b.closed.Load()) }

// act is what a scripted probe does when it is asked.
type act func(ctx context.Context) (Sample, error)

// opener returns a probe that does what next says at each measurement.
func (b *bench) opener(next func() act) Opener {
	return func(context.Context) (Probe, error) {
		defer b.enter()()
		b.opened.Add(1)
		return &scripted{bench: b, next: next}, nil
	}
}

type scripted struct {
	bench *bench
	next  func() act
	shut  bool
}

func (p *scripted) Sense(ctx context.Context) (Sample, error) {
	defer p.bench.enter()()
	require.False(p.bench.t, p.shut, "measured after it was closed")
	return p.next()(ctx)
}

func (p *scripted) Close() error {
	require.False(p.bench.t, p.shut, "closed twice")
	p.shut = true
	p.bench.closed.Add(1)
	return nil
}

func gives(tempC float64) act {
	return func(context.Context) (Sample, error) { return Sample{TempC: tempC, Humidity: math.NaN()}, nil }
}

func fails(err error) act {
	return func(context.Context) (Sample, error) { return Sample{}, err }
}

// inTurn returns the acts one after the other and then the last for ever.
func inTurn(acts ...act) func() act {
	i := -1
	return func() act {
		i = min(i+1, len(acts)-1)
		return acts[i]
	}
}

// collect runs the poller until it delivered n readings.
func collect(t require.TestingT, p *Poller, n int) []Reading {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	out := make(chan Reading)
	var g errgroup.Group
	g.Go(func() error { return p.Run(ctx, out) })
	var got []Reading
	for range n {
		got = append(got, <-out)
	}
	cancel()
	require.ErrorIs(t, g.Wait(), context.Canceled)
	return got
}

// seconds returns when the readings were taken, counted from the first.
func seconds(readings []Reading) []float64 {
	var out []float64
	for _, r := range readings {
		out = append(out, r.At.Sub(readings[0].At).Seconds())
	}
	return out
}

func faults(readings []Reading) []Fault {
	var out []Fault
	for _, r := range readings {
		out = append(out, r.Temp.Fault)
	}
	return out
}

var errBroken = &FaultError{Fault: BadChecksum, Doing: "test", Cause: io.ErrUnexpectedEOF}

func TestPollerKeepsItsRhythm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		slow := func(ctx context.Context) (Sample, error) {
			time.Sleep(750 * time.Millisecond)
			return Sample{TempC: 20, Humidity: 0.5}, nil
		}
		got := collect(t, &Poller{Clock: RealClock{}, Probes: []Polled{
			{Name: "bench", Every: 10 * time.Second, Open: b.opener(inTurn(slow))},
			{Name: "shelf", Every: 30 * time.Second, Open: b.opener(inTurn(slow))},
		}}, 10)
		at := map[string][]float64{}
		for _, r := range got {
			require.NoError(t, r.Err)
			at[r.Probe] = append(at[r.Probe], r.At.Sub(got[0].At).Seconds())
			require.Equal(t, time.UTC, r.At.Location())
		}
		// The first value of each is confirmed as soon as the bus is free; then the rhythm holds, its
		// instants being those at which the measurement began.
		require.Equal(t, []float64{0, 1.75, 10, 20, 30, 40, 50}, at["bench"])
		require.Equal(t, []float64{0.75, 2.5, 30.75}, at["shelf"])
		b.everyOneClosed()
	})
}

func TestPollerUsesTheInstantOfTheDriver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		began := time.Now().Add(-3 * time.Second)
		got := collect(t, &Poller{Probes: []Polled{{Name: "mold", Open: b.opener(inTurn(func(context.Context) (Sample, error) {
			return Sample{TempC: 20, Humidity: math.NaN(), At: began}, nil
		}))}}}, 1)
		require.Equal(t, began.UTC(), got[0].At)
	})
}

// The waits double from one second to a minute, each within ±20 % (RFC 6298: 5.5 doubles, 2.5 allows a
// cap of 60 s; the spread is common practice, no source).
func TestPollerBacksOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		poller := &Poller{Probes: []Polled{{Name: "bench", Every: 10 * time.Second, Open: b.opener(inTurn(fails(errBroken)))}}, Seed: 7}
		got := collect(t, poller, 10)
		require.EqualValues(t, 10, b.opened.Load())
		b.everyOneClosed()
		jittered := false
		at := seconds(got)
		for i, want := range []float64{1, 2, 4, 8, 16, 32, 60, 60, 60} {
			wait := at[i+1] - at[i]
			require.InDelta(t, want, wait, 0.2*want+0.001, "wait %d", i)
			jittered = jittered || math.Abs(wait-want) > 0.01*want
		}
		require.True(t, jittered)
		for _, r := range got {
			require.ErrorIs(t, r.Err, io.ErrUnexpectedEOF, "the cause survives")
			require.Equal(t, Measure{Quality: Bad, Fault: BadChecksum}, r.Temp)
		}
		require.InDeltaSlice(t, at, seconds(collect(t, poller, 10)), 0.002, "the same seed, the same waits")
	})
}

func TestBackOffOfASlowProbe(t *testing.T) {
	require.Equal(t, 32*time.Second, backOff(6, 10*time.Minute))
	require.Equal(t, 10*time.Minute, backOff(7, 10*time.Minute), "a probe asked every ten minutes need not be asked every minute when it fails")
	require.Equal(t, time.Minute, backOff(1000000, time.Second))
}

func TestPollerForgetsAfterThreeGoodReads(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		bad, good := fails(errBroken), gives(20)
		got := collect(t, &Poller{Probes: []Polled{{Name: "bench", Every: 5 * time.Second,
			Open: b.opener(inTurn(good, good, bad, bad, bad, good, good, bad, good, good, good, bad, good))}}}, 13)
		at := seconds(got)
		wait := func(i int) float64 { return at[i+1] - at[i] }
		require.InDelta(t, 4, wait(4), 0.81, "third failure in a row")
		require.InDelta(t, 8, wait(7), 1.61, "two good reads do not make it forget")
		require.InDelta(t, 1, wait(11), 0.21, "three do")
	})
}

func TestPollerReopensADoubtfulProbe(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		got := collect(t, &Poller{Probes: []Polled{{Name: "bench", Open: b.opener(
			inTurn(gives(20), gives(20.1), gives(85), gives(20.1), gives(55), gives(54), gives(54)))}}}, 7)
		require.Equal(t, []Fault{Unsure, NoFault, PowerOn, NoFault, Unsure, NoFault, NoFault}[:4], faults(got)[:4])
		require.Equal(t, Jumped, got[4].Temp.Fault)
		require.Equal(t, []Fault{NoFault, NoFault}, faults(got)[5:], "a second sample of the re-opened probe confirms the jump")
		require.EqualValues(t, 3, b.opened.Load())
		require.InDelta(t, 1, got[3].At.Sub(got[2].At).Seconds(), 0.21, "asked again soon, not a minute later")
	})
}

func TestPollerWantsAgreementAfterAFault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		bad := fails(errBroken)
		got := collect(t, &Poller{Probes: []Polled{{Name: "bench", Open: b.opener(
			inTurn(gives(20), gives(20), bad, gives(20.5), bad, gives(73), gives(20.4)))}}}, 7)
		require.Equal(t, []Fault{Unsure, NoFault, BadChecksum, NoFault, BadChecksum, Unsure, NoFault}, faults(got))
		require.False(t, got[5].Temp.OK())
	})
}

func TestPollerOnAFastClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		clock := NewFastClock(noon, 600)
		start := time.Now()
		got := collect(t, &Poller{Clock: clock, Probes: []Polled{{Name: "bench", Open: b.opener(inTurn(gives(20)))}}}, 62)
		require.InDelta(t, 3600, got[61].At.Sub(noon).Seconds(), 1)
		require.InDelta(t, 6, time.Since(start).Seconds(), 0.01)
	})
}

func TestPollerRefusesProbesItCannotPoll(t *testing.T) {
	open := func(context.Context) (Probe, error) { return nil, nil }
	for _, p := range []Polled{{Open: open}, {Name: "bench"}, {Name: "bench", Open: open, Every: -1}, {Name: "bench", Open: open, Deadline: -1}} {
		require.Error(t, (&Poller{Probes: []Polled{p}}).Run(t.Context(), nil))
	}
	require.NoError(t, (&Poller{}).Run(t.Context(), nil), "nothing to do")
}

// Whatever the probes do, each one's readings are in order, a value is good only if a probe gave it
// twice or near its last good one, and every probe is closed.
func TestPollerProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		synctest.Test(t, func(*testing.T) {
			b := &bench{t: rt}
			next := func() act {
				switch rapid.IntRange(0, 4).Draw(rt, "act") {
				case 0:
					return fails(errBroken)
				case 1:
					return gives(rapid.Float64Range(-200, 200).Draw(rt, "wild"))
				case 2:
					return func(ctx context.Context) (Sample, error) {
						time.Sleep(time.Duration(rapid.IntRange(0, 15000).Draw(rt, "ms")) * time.Millisecond)
						return Sample{TempC: 20, Humidity: 0.5}, nil
					}
				}
				return gives(20)
			}
			got := collect(rt, &Poller{Probes: []Polled{
				{Name: "a", Every: 7 * time.Second, Open: b.opener(next)},
				{Name: "b", Every: 11 * time.Second, Open: b.opener(next)},
			}}, 30)
			last := map[string]time.Time{}
			for _, r := range got {
				require.False(rt, r.At.Before(last[r.Probe]))
				last[r.Probe] = r.At
				require.Equal(rt, r, r.Rounded())
				require.True(rt, r.Err == nil || !r.Temp.OK())
			}
			time.Sleep(time.Minute) // a call that was still running ends
			b.everyOneClosed()
		})
	})
}
