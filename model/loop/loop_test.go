package loop_test

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/loop"
	"pourward/sensors"
)

// shelf is a Record in memory that keeps everything and can be told to fail.
type shelf struct {
	loop.Memory
	safe, waiting []sensors.Reading
	flushes       atomic.Int64
	full          atomic.Bool
}

// err is what a full disk says.
func (s *shelf) err() error {
	if s.full.Load() {
		return errors.New("no space left on device")
	}
	return nil
}

func (s *shelf) AppendReading(r sensors.Reading) error {
	s.waiting = append(s.waiting, r)
	return s.err()
}

func (s *shelf) AppendMark(ctx context.Context, m model.Mark) (model.Mark, error) {
	if err := s.err(); err != nil {
		return model.Mark{}, err
	}
	return s.Memory.AppendMark(ctx, m)
}

func (s *shelf) Flush(context.Context) error {
	s.flushes.Add(1)
	err := s.err()
	if err == nil {
		s.safe, s.waiting = append(s.safe, s.waiting...), nil
	}
	return err
}

func (s *shelf) Waiting() int { return len(s.waiting) }

func (s *shelf) Readings(_ context.Context, from, to time.Time, yield func(sensors.Reading) error) error {
	for _, r := range s.safe {
		if !r.At.Before(from) && r.At.Before(to) {
			if err := yield(r); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *shelf) Span(context.Context) (first, last time.Time, err error) {
	for _, r := range s.safe {
		if first.IsZero() {
			first = r.At
		}
		last = r.At
	}
	return first, last, nil
}

func setup() model.Setup {
	return model.Setup{Places: []string{"bench"}, Probes: []model.Probe{{Name: "air", Place: "bench", Every: 10 * time.Second}}}
}

// running is a loop at work in a synctest bubble, fed with 20 °C every ten seconds.
func running(t *testing.T, s *shelf) (*loop.Loop, func()) {
	l, err := loop.New(t.Context(), loop.Options{Setup: setup(), Record: s, Clock: sensors.RealClock{}, Tell: time.Minute})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	readings, done := make(chan sensors.Reading), make(chan error)
	go func() { done <- l.Run(ctx, readings) }()
	go func() {
		for ctx.Err() == nil {
			select {
			case readings <- sensors.Reading{Probe: "air", At: time.Now(), Temp: sensors.GoodMeasure(20)}:
			case <-ctx.Done():
			}
			_ = sensors.RealClock{}.Wait(ctx, time.Now().Add(10*time.Second))
		}
	}()
	return l, func() {
		cancel()
		require.NoError(t, <-done)
	}
}

func mark(t *testing.T, l *loop.Loop, m model.Mark) model.Mark {
	t.Helper()
	m.Mold = "frieze"
	got, err := l.Mark(t.Context(), m)
	require.NoError(t, err)
	return got
}

func TestLateMarkCountsFromWhenItHappened(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, stop := running(t, &shelf{})
		defer stop()
		time.Sleep(2 * time.Hour)
		at := time.Now().Add(-100 * time.Minute)
		mark(t, l, model.Mark{Kind: model.Begun, Place: "bench", Material: "platinum-slow", At: at})
		got := mark(t, l, model.Mark{Kind: model.CoatOn, Material: "lacquer", At: at})
		require.EqualValues(t, 2, got.ID)
		o := l.Snapshot().Outlook
		require.Greater(t, o.Molds[0].Steps[0].Share, 0.99, "the readings of the last 100 minutes were folded")
	})
}

// A mark of days ago reaches further back than what is held in memory: it is folded from the record, and what is told
// is what a daemon that is started anew tells.
func TestMarkOfDaysAgoIsFoldedFromTheRecord(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		l, end := running(t, s)
		stop := sync.OnceFunc(end)
		defer stop()
		time.Sleep(5 * 24 * time.Hour)
		at := time.Now().Add(-4 * 24 * time.Hour)
		for _, m := range []model.Mark{{Kind: model.Begun, Place: "bench", Material: "platinum-slow"}, {Kind: model.Mixed}, {Kind: model.Poured}} {
			m.At = at
			mark(t, l, m)
		}
		stop()
		told := l.Snapshot().Outlook
		steps := told.Molds[0].Steps
		require.Equal(t, model.Ready, steps[len(steps)-1].Standing, "by the air of four days ago")
		again, err := loop.New(t.Context(), loop.Options{Setup: setup(), Record: s, Clock: sensors.RealClock{}})
		require.NoError(t, err)
		require.Equal(t, again.Snapshot().Outlook.Molds, told.Molds)
	})
}

func TestRefusedMarkIsNotStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		l, stop := running(t, s)
		defer stop()
		for _, m := range []model.Mark{
			{Kind: model.Poured, Mold: "frieze"},
			{Kind: model.Begun, Mold: "frieze", Place: "moon"},
			{Kind: model.Begun, Mold: "frieze", Place: "bench", At: time.Now().Add(time.Hour)},
		} {
			_, err := l.Mark(t.Context(), m)
			require.ErrorIs(t, err, loop.ErrRefused)
		}
		marks, err := s.Marks(t.Context())
		require.NoError(t, err)
		require.Empty(t, marks)
	})
}

func TestReadingsAreSafeWithinAMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		l, stop := running(t, s)
		for range 30 {
			time.Sleep(17 * time.Second)
			synctest.Wait()
			require.LessOrEqual(t, l.Snapshot().Health.Journal.Waiting, 7)
		}
		stop()
		require.Zero(t, s.Waiting(), "a clean stop leaves nothing unsafe")
	})
}

func TestFailingRecordDoesNotStopTheShop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		l, stop := running(t, s)
		defer stop()
		mark(t, l, model.Mark{Kind: model.Begun, Place: "bench"})
		s.full.Store(true)
		_, err := l.Mark(t.Context(), model.Mark{Kind: model.CoatOn, Mold: "frieze", Material: "lacquer"})
		require.ErrorContains(t, err, "not safe")
		time.Sleep(5 * time.Minute)
		synctest.Wait()
		snap := l.Snapshot()
		require.Contains(t, snap.Health.Journal.Err, "no space left")
		require.WithinDuration(t, time.Now(), snap.Outlook.Probes[0].Last, 11*time.Second, "measuring goes on")
		s.full.Store(false)
		time.Sleep(70 * time.Second)
		synctest.Wait()
		require.Empty(t, l.Snapshot().Health.Journal.Err)
	})
}

func TestSilenceIsNoticed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l, err := loop.New(t.Context(), loop.Options{Setup: setup(), Record: &shelf{}, Clock: sensors.RealClock{}})
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(t.Context())
		readings, done := make(chan sensors.Reading, 1), make(chan error)
		go func() { done <- l.Run(ctx, readings) }()
		readings <- sensors.Reading{Probe: "air", At: time.Now(), Temp: sensors.GoodMeasure(20)}
		synctest.Wait()
		require.False(t, l.Snapshot().Outlook.Probes[0].Silent)
		time.Sleep(5 * time.Minute)
		synctest.Wait()
		require.True(t, l.Snapshot().Outlook.Probes[0].Silent)
		cancel()
		require.NoError(t, <-done)
	})
}

func TestRestartTellsTheSame(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		l, stop := running(t, s)
		mark(t, l, model.Mark{Kind: model.Begun, Place: "bench", Material: "platinum-slow"})
		mark(t, l, model.Mark{Kind: model.Mixed})
		mark(t, l, model.Mark{Kind: model.Poured})
		time.Sleep(3 * time.Hour)
		synctest.Wait()
		stop()
		before := l.Snapshot().Outlook
		again, err := loop.New(t.Context(), loop.Options{Setup: setup(), Record: s, Clock: sensors.RealClock{}})
		require.NoError(t, err)
		require.Equal(t, before.Molds, again.Snapshot().Outlook.Molds, "the same bits")
	})
}

// A receipt is settled when the readings before it have arrived, or are safe; of one that asks for safety
// not before, and with the reason while the disk is full.
func TestReceiptsAreSettledWhenItIsTrue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		l, err := loop.New(t.Context(), loop.Options{Setup: setup(), Record: s, Clock: sensors.RealClock{}})
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(t.Context())
		readings, done := make(chan sensors.Reading), make(chan error)
		go func() { done <- l.Run(ctx, readings) }()
		send := func(safe bool) *sensors.Receipt {
			readings <- sensors.Reading{Probe: "air", At: time.Now(), Temp: sensors.GoodMeasure(20)}
			r := sensors.NewReceipt(safe)
			readings <- sensors.Reading{Receipt: r}
			synctest.Wait()
			return r
		}
		require.NoError(t, <-send(false).Settled())
		require.NotZero(t, s.Waiting(), "it is there, and not safe yet")

		var all []*sensors.Receipt
		begun := time.Now()
		for range 10 {
			r := send(true)
			select {
			case <-r.Settled():
				require.Fail(t, "settled before it is safe")
			default:
			}
			all = append(all, r)
			time.Sleep(50 * time.Millisecond)
		}
		flushes := s.flushes.Load()
		for _, r := range all {
			require.NoError(t, <-r.Settled())
			require.Zero(t, s.Waiting())
		}
		require.LessOrEqual(t, time.Since(begun), time.Second)
		require.Equal(t, flushes+1, s.flushes.Load(), "all at once")

		s.full.Store(true)
		require.ErrorContains(t, <-send(true).Settled(), "no space left")
		require.ErrorContains(t, <-send(true).Settled(), "no space left", "also while it is not tried again")
		s.full.Store(false)
		time.Sleep(20 * time.Second)
		require.NoError(t, <-send(true).Settled())
		last := send(true)
		cancel()
		require.NoError(t, <-done)
		require.NoError(t, <-last.Settled(), "an end makes all safe")
	})
}

// A disk that stays full is not tried at every reading: there would be more to write each time.
func TestFailingFlushIsNotRepeatedAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{}
		_, stop := running(t, s)
		s.full.Store(true)
		time.Sleep(10 * time.Minute)
		synctest.Wait()
		require.LessOrEqual(t, s.flushes.Load(), int64(60))
		require.Greater(t, s.flushes.Load(), int64(40))
		s.full.Store(false)
		time.Sleep(21 * time.Second)
		synctest.Wait()
		require.Less(t, s.Waiting(), 4, "it recovers soon")
		stop()
	})
}
