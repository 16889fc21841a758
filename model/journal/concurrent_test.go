package journal

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"pourward/sensors"
)

// Readers at any moment see exactly the first n readings, with n no less than what had been appended
// before they asked: no seal, flush or mark shows half done.
func TestReadersSeeAConsistentPicture(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	var appended atomic.Int64
	var done atomic.Bool
	group, ctx := errgroup.WithContext(ctx)
	for range 2 {
		group.Go(func() error {
			for !done.Load() {
				if err := checkPicture(ctx, j, &appended); err != nil {
					return err
				}
			}
			return nil
		})
	}
	group.Go(func() error {
		defer done.Store(true)
		return writeHalfADay(ctx, j, &appended)
	})
	require.NoError(t, group.Wait())
}

func writeHalfADay(ctx context.Context, j *Journal, appended *atomic.Int64) error {
	for i := range 4320 {
		if err := j.AppendReading(benchReading(i, 1)); err != nil {
			return err
		}
		appended.Store(int64(i + 1))
		switch {
		case i%60 == 0:
			if _, err := j.AppendMark(ctx, markOf("")); err != nil {
				return err
			}
		case i%6 == 0:
			if err := j.Flush(ctx); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkPicture(ctx context.Context, j *Journal, appended *atomic.Int64) error {
	atLeast := int(appended.Load())
	trace, err := j.Trace(ctx, "probe 0", noon, noon.AddDate(0, 0, 2))
	if err != nil {
		return err
	}
	if len(trace) < atLeast {
		return fmt.Errorf("%d readings were in, %d were seen", atLeast, len(trace))
	}
	for i, r := range trace {
		if r != benchReading(i, 1) {
			return fmt.Errorf("reading %d is %v", i, r)
		}
	}
	first, last, err := j.Span(ctx)
	if n := len(trace); err == nil && n > 0 && (first != trace[0].At || last.Before(trace[n-1].At)) {
		return fmt.Errorf("the record spans %s to %s", first, last)
	}
	return err
}

// Every reading recorded before the call comes exactly once, however slow the reader is and whatever
// the writer packs meanwhile; and the writer does not wait for it.
func TestSlowReaderHoldsNobodyUp(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	before := shop(0, 50_000, 4) // 35 hours, more than a batch of blocks a probe
	appendAll(t, j, before[:49_990])
	require.NoError(t, j.Flush(ctx))
	appendAll(t, j, before[49_990:])

	started, wrote := make(chan struct{}), make(chan struct{})
	var once sync.Once
	var got []sensors.Reading
	var group errgroup.Group
	group.Go(func() error {
		return j.Readings(ctx, noon, noon.AddDate(1, 0, 0), func(r sensors.Reading) error {
			once.Do(func() { close(started) })
			<-wrote // the reader stops at the first reading until the writer is done
			got = append(got, r)
			return nil
		})
	})
	<-started
	for i := 50_000; i < 60_000; i += 1000 { // packs seven hours
		appendAll(t, j, shop(i, 1000, 4))
		require.NoError(t, j.Flush(ctx))
	}
	_, err := j.write.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	require.NoError(t, err)
	close(wrote)
	require.NoError(t, group.Wait())
	require.Equal(t, before, got[:len(before)])
	require.Equal(t, shop(50_000, len(got)-len(before), 4), got[len(before):])
}

func TestReaderMayStop(t *testing.T) {
	j := opened(t, newPath(t), Options{})
	appendAll(t, j, shop(0, 100, 2))
	enough := errors.New("enough")
	n := 0
	err := j.Readings(context.Background(), noon, noon.Add(time.Hour), func(sensors.Reading) error {
		n++
		return enough
	})
	require.ErrorIs(t, err, enough)
	require.Equal(t, 1, n)
}

func TestWaitsEndWithTheContext(t *testing.T) {
	j := opened(t, newPath(t), Options{})
	appendAll(t, j, shop(0, 100, 2))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	require.ErrorIs(t, j.Flush(ctx), context.Canceled)
	require.Equal(t, 100, j.Waiting())
	_, err := j.AppendMark(ctx, markOf(""))
	require.ErrorIs(t, err, context.Canceled)
	_, err = j.Trace(ctx, "probe 0", noon, noon.Add(time.Hour))
	require.ErrorIs(t, err, context.Canceled)
}
