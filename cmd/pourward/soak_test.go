package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"log/slog"
	"math"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/model"
	"pourward/model/journal/faulty"
	"pourward/model/material"
	"pourward/sensors"
	"pourward/sensors/simulated"
)

var (
	soakSeed = flag.Uint64("soak.seed", 0, "seed of the soak's chances; 0 draws one")
	soakDays = flag.Int("soak.days", 2, "days that the soak lasts, in the shop's time")

	layer = sync.OnceValues(faulty.Install)
)

// soak is a shop whose probes, clock and disk fail by chance, for weeks of its time.
type soak struct {
	t       *testing.T
	random  *rand.Rand // of the maker and of what befalls the shop
	climate *simulated.Climate
	board   *soakBoard
	disk    *faulty.Disk
	opts    shopOptions
	shop    *rehearsal
	watch   *watcher

	marks    []int64 // numbers of confirmed ones
	refused  int
	readings uint64  // recorded by daemons that have ended
	failing  bool    // the disk
	warmC    float64 // by how much every probe is wrong, and is believed; 0 = they are judged
	faults   int     // of all kinds
	same     int     // restarts after which the outlook was compared
	molds    int
}

// soakBoard is a computer in the bubble whose time of day is set now and then.
type soakBoard struct {
	boot time.Time

	mu  sync.Mutex
	off time.Duration // of the time of day
}

func (b *soakBoard) BootID() (string, error)           { return "soak", nil }
func (b *soakBoard) SinceBoot() (time.Duration, error) { return time.Since(b.boot), nil }
func (b *soakBoard) Trusted() bool                     { return true }

func (b *soakBoard) Wall() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return time.Now().Add(b.off)
}

// soakProbe measures a climate and fails by chance.
type soakProbe struct {
	tempC  func(time.Time) float64
	random *rand.Rand
	until  time.Time // of what ails it
	ails   int
	stuckC float64
}

// Sense implements [sensors.Probe]. What ails the probe lasts for minutes to hours.
func (p *soakProbe) Sense(ctx context.Context) (sensors.Sample, error) {
	time.Sleep(time.Duration(20+p.random.IntN(900)) * time.Millisecond) // no two measurements begin at one instant
	now := time.Now()
	c := p.tempC(now) + 0.03*p.random.NormFloat64()
	if now.After(p.until) {
		p.ails, p.stuckC = 0, c
		if p.random.IntN(300) == 0 {
			p.ails = 1 + p.random.IntN(6)
			p.until = now.Add(time.Duration(1+p.random.IntN(240)) * time.Minute)
		}
	}
	switch p.ails {
	case 1:
		return sensors.Sample{}, &sensors.FaultError{Fault: sensors.NoResponse, Doing: "ask", Cause: errors.New("no answer")}
	case 2:
		c = 85 // as a chip says after its power was gone
	case 3:
		c += 40 * p.random.Float64() // spikes, all to the warm side
	case 4:
		c = math.NaN()
	case 5:
		c = p.stuckC
	case 6:
		<-ctx.Done() // it hangs
		return sensors.Sample{}, ctx.Err()
	}
	return sensors.Sample{TempC: c, Humidity: math.NaN()}, nil
}

// Close implements [sensors.Probe].
func (*soakProbe) Close() error { return nil }

// sources asks the probes as those of a bus are.
func (s *soak) sources(_ context.Context, _ past, clock sensors.Clock) ([]sensors.Source, error) {
	var out []sensors.Source
	for i, p := range s.opts.setup.Probes {
		at := s.climate.AnnexC
		if i == 1 {
			at = s.climate.PatternC
		}
		probe := &soakProbe{tempC: func(t time.Time) float64 { return at(t) + s.warmC }, random: rand.New(rand.NewPCG(s.random.Uint64(), 0))}
		out = append(out, &sensors.Poller{Clock: clock, Seed: uint64(i), Probes: []sensors.Polled{{Name: p.Name, Every: p.Every,
			Open: func(context.Context) (sensors.Probe, error) { return probe, nil }}}})
	}
	return out, nil
}

// soaking sets up the shop.
func soaking(t *testing.T, seed uint64, warm float64) *soak {
	l, err := layer()
	require.NoError(t, err)
	dir := t.TempDir()
	s := &soak{t: t, random: rand.New(rand.NewPCG(seed, 0)), disk: l.Over(dir), watch: newWatcher(),
		climate: simulated.NewClimate(seed, time.Now(), time.UTC), board: &soakBoard{boot: time.Now()}}
	s.opts = shopOptions{
		name: "Soak", zone: time.UTC, journal: filepath.Join(dir, "soak.journal"), board: s.board,
		tell: 15 * time.Minute, flush: 10 * time.Minute, log: slog.New(slog.DiscardHandler),
		setup: model.Setup{Places: []string{"bench", "pattern"}, Zone: time.UTC, Shelf: material.Generic(), Probes: []model.Probe{
			{Name: "air", Place: "bench", Every: 5 * time.Minute}, {Name: "skin", Place: "pattern", Every: 5 * time.Minute}}},
		sources: s.sources, watch: s.watch.step,
	}
	s.warmC = warm
	s.shop = rehearse(t, s.opts)
	return s
}

// mark enters a mark; while the disk fails it is tried again, as a person would.
func (s *soak) mark(m model.Mark) {
	for {
		got, err := s.shop.Mark(s.t.Context(), m)
		if err == nil {
			s.watch.marked()
			s.marks = append(s.marks, got.ID)
			return
		}
		require.True(s.t, s.failing, "%v: %v", m, err)
		s.refused++
		s.pass(20 * time.Minute)
	}
}

// pass lets time pass, and things happen to the shop.
func (s *soak) pass(d time.Duration) {
	for end := time.Now().Add(d); time.Now().Before(end); {
		time.Sleep(min(10*time.Minute, time.Until(end)))
		switch s.random.IntN(400) {
		case 0:
			s.step()
		case 1, 2, 3:
			s.toggle()
		case 4:
			s.restart()
		}
		if s.failing && s.random.IntN(12) == 0 {
			s.toggle()
		}
	}
}

// step sets the time of day.
func (s *soak) step() {
	s.faults++
	s.board.mu.Lock()
	s.board.off += time.Duration(s.random.Int64N(int64(6*time.Hour))) - 3*time.Hour
	s.board.mu.Unlock()
	s.watch.stepped()
}

// toggle lets the disk fail, or mends it.
func (s *soak) toggle() {
	s.failing = !s.failing
	if !s.failing {
		s.disk.Fail(nil)
		return
	}
	s.faults++
	fault := faulty.Fault(1 + s.random.IntN(4))
	s.disk.Fail(func(op faulty.Op) faulty.Fault {
		if op.Kind == faulty.Write || op.Kind == faulty.Truncate || op.Kind == faulty.Sync {
			return fault
		}
		return faulty.None
	})
}

// restart ends the daemon as a signal would and starts it again: it tells the same.
func (s *soak) restart() {
	if s.failing {
		s.toggle()
	}
	time.Sleep(1700 * time.Millisecond) // the probes are asked at once after a start: not at an instant that has a reading
	synctest.Wait()
	require.NoError(s.t, s.shop.end())
	was := s.shop.Snapshot()
	s.readings += was.Health.Journal.Readings
	s.watch.ended()
	s.shop = rehearse(s.t, s.opts)
	now := s.shop.Snapshot()
	if now.Outlook.At.Equal(was.Outlook.At) { // a probe may have been heard already
		s.same++
		require.Equal(s.t, was.Outlook.Molds, now.Outlook.Molds, "what a restart folds from the record")
	}
}

// mold makes one mold from pattern to rubber, checking and correcting now and then.
func (s *soak) mold() {
	s.molds++
	name := "frieze-" + string(rune('a'+s.molds/26)) + string(rune('a'+s.molds%26))
	enter := func(kind model.MarkKind, material string) {
		s.mark(model.Mark{Kind: kind, Mold: name, Material: material})
	}
	s.mark(model.Mark{Kind: model.Begun, Mold: name, Place: "bench", Surface: "pattern", Material: "platinum-slow"})
	enter(model.CoatOn, "lacquer")
	s.pass(time.Duration(3+s.random.IntN(12)) * time.Hour)
	if s.random.IntN(3) == 0 {
		s.mark(model.Mark{Kind: model.CoatOn, Mold: name, Material: "shellac", Corrects: s.marks[len(s.marks)-1]})
	}
	enter(model.ReleaseOn, "wax-naphtha")
	s.pass(4 * time.Hour)
	enter(model.Mixed, "platinum-slow")
	s.pass(10 * time.Minute)
	enter(model.Poured, "")
	s.pass(time.Duration(8+s.random.IntN(16)) * time.Hour)
	if s.random.IntN(2) == 0 {
		s.mark(model.Mark{Kind: model.Checked, Mold: name, Of: model.Cup, Found: model.Tacky})
	}
	s.pass(24 * time.Hour)
	enter(model.Demolded, "")
	s.pass(time.Hour)
}

// A month of the shop's time with failing probes, a failing disk, a clock that is set and a daemon that is
// started anew, all by chance: what is told stays true, nothing confirmed is lost, nothing piles up.
func TestSoak(t *testing.T) {
	seed := cmp.Or(*soakSeed, rand.Uint64())
	t.Logf("repeat with -soak.seed=%d", seed)
	synctest.Test(t, func(t *testing.T) {
		s := soaking(t, seed, 0)
		begun := time.Now()
		s.pass(24 * time.Hour)
		goroutines, heap := burden()
		for time.Since(begun) < time.Duration(*soakDays)*24*time.Hour {
			s.mold()
			more, grown := burden()
			require.LessOrEqual(t, more, goroutines+2, "goroutines")
			require.Less(t, grown, heap+24<<20, "bytes in use")
		}
		s.restart() // with its comparisons
		require.NoError(t, s.shop.end())
		s.readings += s.shop.Snapshot().Health.Journal.Readings
		s.watch.ended()
		marks, readings := onRecord(t, s.opts.journal)
		require.Empty(t, s.watch.wrong)
		require.NotZero(t, s.same)
		require.Equal(t, s.marks, marks)
		require.Equal(t, s.readings, uint64(len(readings)))
		t.Logf("%d molds, %d marks, %d refused while the disk failed, %d readings, %d faults of disk and clock, %d outlooks, %d alerts",
			s.molds, len(marks), s.refused, len(readings), s.faults, s.watch.told, s.watch.fired)
	})
}

// What the soak must find out: a shop that believes probes that are wrong to the warm side, a share that
// falls, an alert that begins or ends twice, and a journal that fails without anybody being called.
func TestSoakFindsWhatIsWrong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := soaking(t, 1, 20)
		s.pass(time.Hour)
		s.mold()
		require.NoError(t, s.shop.end())
		require.Contains(t, strings.Join(s.watch.wrong, "\n"), "ready before its time")
	})
	at := time.Date(2026, 1, 14, 12, 0, 0, 0, time.UTC)
	snapshot := func(after time.Duration, share float64, trouble string) *model.Snapshot {
		cure := model.Step{Kind: model.DemoldTime, Mark: 7, Begun: at, Projection: model.Projection{Share: share}}
		return &model.Snapshot{Health: model.Health{Journal: model.JournalHealth{Err: trouble}},
			Outlook: &model.Outlook{At: at.Add(after), Molds: []model.MoldOutlook{{Name: "frieze", Steps: []model.Step{cure}}}}}
	}
	ring := []alerts.Change{{Alert: alerts.Alert{Name: "PourwardProbeSilent"}}}
	w := newWatcher()
	w.step(snapshot(0, 0.5, "the disk is full"), ring)
	require.Empty(t, w.wrong)
	w.step(snapshot(time.Minute, 0.4, "the disk is full"), nil)
	w.step(snapshot(time.Hour, 0.6, "the disk is full"), ring)
	require.Len(t, w.wrong, 3)
	require.Contains(t, w.wrong[0], "fell from 0.5 to 0.4")
	require.Contains(t, w.wrong[1], "it was firing true")
	require.Contains(t, w.wrong[2], "nobody is called")
}

// burden is how many goroutines there are and how much memory is in use.
func burden() (goroutines int, heap uint64) {
	synctest.Wait()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return runtime.NumGoroutine(), m.HeapAlloc
}
