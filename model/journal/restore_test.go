package journal

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/sensors"
)

// Whatever is put into a new journal, in whatever order: it comes back as if it had been kept there.
func TestRestoredIsWhatWasPutIn(t *testing.T) {
	dir, n := t.TempDir(), 0
	ctx := context.Background()
	rapid.Check(t, func(t *rapid.T) {
		n++
		path := filepath.Join(dir, fmt.Sprintf("%d.journal", n))
		var want ledger
		probes := []string{"shelf", "never heard", "Werkbank ä", "bench", "pattern"}
		shifts := []sensors.Shift{{Boot: "one", From: noon, By: -time.Hour}, {Boot: "one", From: noon.Add(-time.Hour), By: time.Millisecond}}
		boots := []sensors.Boot{{ID: "one", Zero: noon, First: noon, Trusted: true}, {ID: "two", Zero: noon, First: noon.Add(time.Hour)}}
		err := Restore(ctx, path, Options{}, func(r *Restored) error {
			for _, p := range probes {
				require.NoError(t, r.PutProbe(ctx, p))
			}
			for i := range shifts {
				require.NoError(t, r.PutBoot(ctx, boots[i]))
				require.NoError(t, r.PutShift(ctx, shifts[i]))
			}
			for i := range rapid.IntRange(0, 4).Draw(t, "marks") {
				m := drawMark(want.marks).Draw(t, "mark").Rounded()
				m.ID = int64(3*i + 2)
				require.NoError(t, r.PutMark(ctx, m))
				want.marks = append(want.marks, m)
			}
			for _, x := range rapid.SliceOfN(drawReading(), 0, 60).Draw(t, "readings") {
				require.NoError(t, r.PutReading(ctx, x))
				want.add(x)
			}
			return nil
		})
		require.NoError(t, err)
		j, err := Open(ctx, path, Options{})
		require.NoError(t, err)
		defer func() { require.NoError(t, j.Close(ctx)) }()
		checkReadings(t, j, want)
		checkMarks(t, j, want)
		for _, got := range []struct {
			want any
			is   func() (any, error)
		}{
			{probes, func() (any, error) { return j.Probes(ctx) }},
			{boots, func() (any, error) { return j.Boots(ctx) }},
			{shifts, func() (any, error) { return j.Shifts(ctx) }},
		} {
			is, err := got.is()
			require.NoError(t, err)
			require.Equal(t, got.want, is)
		}
		next, err := j.AppendMark(ctx, model.Mark{Kind: model.Begun, Mold: "next"})
		require.NoError(t, err)
		require.Greater(t, next.ID, int64(len(want.marks)*3-3), "marks go on after the last number")
	})
}

func listing(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		if e.Name() != "shop.journal-lock" { // empty; every journal has one
			names = append(names, e.Name())
		}
	}
	return names
}

func putOne(r *Restored) error {
	return errors.Join(r.PutProbe(context.Background(), "bench"), r.PutReading(context.Background(), benchReading(0, 1)))
}

func TestRestoreThatFailsLeavesNothing(t *testing.T) {
	path := newPath(t)
	torn := errors.New("torn")
	err := Restore(t.Context(), path, Options{}, func(r *Restored) error { return errors.Join(putOne(r), torn) })
	require.ErrorIs(t, err, torn)
	require.Empty(t, listing(t, filepath.Dir(path)))

	require.NoError(t, Restore(t.Context(), path, Options{}, putOne), "and the next try succeeds")
	require.Equal(t, []string{"shop.journal"}, listing(t, filepath.Dir(path)))
}

func TestRestoreOverAnother(t *testing.T) {
	ctx := t.Context()
	t.Run("kept by a daemon", func(t *testing.T) {
		path := newPath(t)
		opened(t, path, Options{})
		require.ErrorIs(t, Restore(ctx, path, Options{}, putOne), ErrInUse)
	})
	t.Run("with a mark", func(t *testing.T) {
		path := newPath(t)
		j := opened(t, path, Options{})
		_, err := j.AppendMark(ctx, markOf(""))
		require.NoError(t, err)
		require.NoError(t, j.Close(ctx))
		before, err := os.ReadFile(path)
		require.NoError(t, err)
		require.ErrorIs(t, Restore(ctx, path, Options{}, putOne), ErrNotEmpty)
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, before, after)
	})
	t.Run("something else", func(t *testing.T) {
		path := newPath(t)
		require.NoError(t, os.WriteFile(path, []byte("Poured the frieze at noon, cold in the annex.\n"), 0o600))
		require.ErrorIs(t, Restore(ctx, path, Options{}, putOne), ErrNotJournal)
	})
	t.Run("empty, and left by a power cut", func(t *testing.T) {
		path := newPath(t)
		j := opened(t, path, Options{})
		require.NoError(t, j.PutBoot(ctx, sensors.Boot{ID: "one", Zero: noon, First: noon}))
		cut := filepath.Join(t.TempDir(), "cut.journal")
		for _, end := range []string{"", "-wal"} {
			data, err := os.ReadFile(path + end)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(cut+end, data, 0o600))
		}
		require.NoError(t, Restore(ctx, cut, Options{}, putOne))
		got := opened(t, cut, Options{})
		require.Len(t, everything(t, got), 1)
		boots, err := got.Boots(ctx)
		require.NoError(t, err)
		require.Empty(t, boots, "the old write-ahead log is not taken for the new one's")
	})
}

func TestRestoreGoesOnAfterAKilledTry(t *testing.T) {
	path := newPath(t)
	left := opened(t, path+"-restoring", Options{})
	appendAll(t, left, shop(0, 10, 1))
	require.NoError(t, left.Close(t.Context()))
	require.NoError(t, Restore(t.Context(), path, Options{}, putOne))
	require.Len(t, everything(t, opened(t, path, Options{})), 1)
}
