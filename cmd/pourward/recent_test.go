package main

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/journal"
	"pourward/model/loop"
	"pourward/model/material"
	"pourward/sensors"
)

// A shop whose journal keeps marks alone, and whose journal cannot be used: damaged, or kept by another daemon. What
// was measured stays known throughout; marks are taken into the rescue at once, and refused in memory until the
// journal is free. Then all is folded anew, with the readings that are in memory only.
func TestMarksAloneWithoutAJournal(t *testing.T) {
	for name, c := range map[string]struct {
		spoil  func(t *testing.T, path string) (mend func() error)
		state  model.RecordState
		memory bool
		after  model.RecordState
		in     func(path string) string
	}{
		"damaged": {func(t *testing.T, path string) func() error {
			require.NoError(t, os.WriteFile(path, []byte("SQLite format 3\x00 and nonsense"), 0o600))
			return func() error { return nil }
		}, model.RecordForeign, false, model.RecordForeign, func(path string) string { return journal.RescueOf(path, 1) }},
		"in use": {func(t *testing.T, path string) func() error {
			other, err := journal.Open(t.Context(), path, journal.Options{})
			require.NoError(t, err)
			return func() error { return other.Close(context.Background()) }
		}, model.RecordInUse, true, model.RecordSound, func(path string) string { return path }},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "marks.journal")
			synctest.Test(t, func(t *testing.T) {
				ctx, stop := context.WithCancel(t.Context())
				mend := c.spoil(t, path)
				k, err := journal.Keep(ctx, path, journal.Options{})
				require.NoError(t, err)
				l, err := loop.New(ctx, loop.Options{
					Setup:  model.Setup{Places: []string{"bench"}, Shelf: material.Generic(), Probes: []model.Probe{{Name: "air", Place: "bench", Every: time.Minute}}},
					Record: loop.NewRecent(k, 24*time.Hour), Clock: sensors.RealClock{}, Flush: 30 * time.Second, Log: slog.New(slog.DiscardHandler),
				})
				require.NoError(t, err)
				readings, done := make(chan sensors.Reading), make(chan error, 1)
				go func() { done <- l.Run(ctx, readings) }()
				measure := func(n int) {
					for range n {
						readings <- sensors.Reading{Probe: "air", At: time.Now().UTC(), Temp: sensors.GoodMeasure(19)}
						time.Sleep(time.Minute)
					}
				}
				begin := func() error {
					_, err := l.Mark(ctx, model.Mark{Kind: model.Begun, Mold: "corbel", Place: "bench", Material: "platinum-slow", At: time.Now().Add(-25 * time.Minute)})
					return err
				}
				measure(30)
				health := l.Snapshot().Health.Journal
				require.Equal(t, c.state, health.Stand.State)
				require.Equal(t, c.memory, health.Stand.InMemory)
				require.Zero(t, health.Waiting, "nothing of the readings is to go on record")
				if c.memory {
					require.ErrorIs(t, begin(), journal.ErrInUse)
					require.NotEmpty(t, l.Snapshot().Health.Journal.Err)
				} else {
					require.NoError(t, begin())
				}
				require.NoError(t, mend())
				measure(3)
				require.Equal(t, c.after, l.Snapshot().Health.Journal.Stand.State)
				require.Empty(t, l.Snapshot().Health.Journal.Err)
				if c.memory {
					require.NoError(t, begin())
				}
				_, err = l.Mark(ctx, model.Mark{Kind: model.CoatOn, Mold: "corbel", Material: "lacquer", At: time.Now().Add(-20 * time.Minute)})
				require.NoError(t, err, "before the record was changed: it is folded from the readings in memory")
				m := l.Snapshot().Outlook.Molds
				require.Len(t, m, 1)
				require.Len(t, m[0].Marks, 2)
				require.Equal(t, 19.0, l.Snapshot().Outlook.Places[0].TempC)
				stop()
				require.NoError(t, errors.Join(<-done, k.Close(context.Background())))
			})
			marks, kept := onRecord(t, c.in(path))
			require.Equal(t, []int64{1, 2}, marks)
			require.Empty(t, kept)
		})
	}
}
