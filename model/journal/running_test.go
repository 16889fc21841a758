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

	"pourward/model"
	"pourward/sensors"
)

// running is a keeper in whose file are eight hours of readings and three marks, and nothing in its log.
func running(t *testing.T) (k *Keeper, all []sensors.Reading) {
	t.Helper()
	ctx := context.Background()
	k = kept(t, newPath(t))
	all = shop(0, 6000, 2)
	for _, r := range all {
		require.NoError(t, k.AppendReading(r))
	}
	require.NoError(t, k.Flush(ctx))
	for range 3 {
		_, err := k.AppendMark(ctx, markOf("before"))
		require.NoError(t, err)
	}
	require.NoError(t, k.j.emptyLog(ctx))
	return k, all
}

// forget makes a journal read its file again, as it does of pages that it has not read for long.
func forget(t *testing.T, j *Journal) {
	t.Helper()
	_, err := j.write.Exec("PRAGMA shrink_memory")
	require.NoError(t, err)
	j.read.SetMaxIdleConns(0)
	j.read.SetMaxIdleConns(readers)
}

// rootOf is the first page of a table, from 0 on.
func rootOf(t *testing.T, j *Journal, table string) int64 {
	t.Helper()
	var page int64
	require.NoError(t, j.read.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = ?", table).Scan(&page))
	return page - 1
}

// nonsense overwrites the beginnings of pages.
func nonsense(t *testing.T, path string, pages ...int64) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	for _, n := range pages {
		_, err := f.WriteAt([]byte("nonsense where a page begins"), n*pageSize)
		require.NoError(t, err)
	}
	require.NoError(t, f.Close())
}

// requireAmong wants all of some readings among others.
func requireAmong(t *testing.T, want, got []sensors.Reading) {
	t.Helper()
	have := map[sensors.Reading]bool{}
	for _, r := range got {
		have[r] = true
	}
	for _, r := range want {
		require.True(t, have[r], "%v", r)
	}
}

// A page is damaged while the journal is in use. Whatever meets it first, a mark, a flush, the turn of the hour or a
// query: from the next flush on the record is in a rescue journal, what was confirmed before and since is there, as
// far as it did not lie on the damaged page, and mending brings it all together.
func TestDamageMetWhileRunning(t *testing.T) {
	ctx := context.Background()
	for name, c := range map[string]struct {
		spoil func(t *testing.T, j *Journal)
		first string // what meets it
		marks int    // of the three, that do not lie on the page
	}{
		"marks":   {func(t *testing.T, j *Journal) { nonsense(t, j.path, rootOf(t, j, "marks")) }, "mark", 0},
		"tail":    {func(t *testing.T, j *Journal) { nonsense(t, j.path, rootOf(t, j, "tail")) }, "flush", 3},
		"probes":  {func(t *testing.T, j *Journal) { nonsense(t, j.path, rootOf(t, j, "probes")) }, "mark", 3},
		"several": {func(t *testing.T, j *Journal) { nonsense(t, j.path, rootOf(t, j, "blocks"), rootOf(t, j, "tail")) }, "query", 3},
	} {
		if thinned > 1 && name != "probes" {
			continue // the others read thousands of rows that are not there
		}
		t.Run(name, func(t *testing.T) {
			k, all := running(t)
			c.spoil(t, k.j)
			forget(t, k.j)
			var since []sensors.Reading
			var marks []model.Mark
			measure := func(hour int) {
				r := sensors.Reading{Probe: fmt.Sprint("probe ", hour), At: noon.Add(time.Duration(hour) * time.Hour), Temp: sensors.GoodMeasure(19)}
				require.NoError(t, k.AppendReading(r))
				since = append(since, r)
			}
			mark := func() {
				m, err := k.AppendMark(ctx, markOf("since"))
				require.NoError(t, err)
				marks = append(marks, m)
			}
			switch c.first {
			case "mark":
				mark()
			case "query":
				_ = k.Readings(ctx, noon, noon.Add(20*time.Hour), func(sensors.Reading) error { return nil })
				_, _ = k.Marks(ctx)
			}
			for hour := range 3 {
				measure(9 + hour)
				require.NoError(t, k.Flush(ctx))
				mark()
			}
			require.NoError(t, k.Flush(ctx))
			check := func(have []model.Mark, got []sensors.Reading) {
				require.Subset(t, have, marks)
				require.Len(t, have, c.marks+len(marks))
				requireAmong(t, since, got)
			}
			have, err := k.Marks(ctx)
			require.NoError(t, err)
			check(have, readAll(t, k))
			require.Equal(t, model.RecordDamaged, k.Stand().State)
			require.NotEmpty(t, k.Stand().Rescue)
			require.True(t, k.Renewed())
			lost := k.Stand().Lost
			require.True(t, lost.Any())
			if name == "probes" {
				requireAmong(t, all, readAll(t, k)) // their index has the names
			}
			path := k.path
			require.NoError(t, k.Close(ctx))
			_, err = Mend(ctx, path, path+".mended", Options{})
			require.NoError(t, err)
			j := opened(t, path+".mended", Options{})
			have, err = j.Marks(ctx)
			require.NoError(t, err)
			check(have, everything(t, j))
		})
	}
}

// A page of old readings is damaged, which only a query meets: all but what lay on it goes on.
func TestOldReadingsDamagedWhileRunning(t *testing.T) {
	ctx := context.Background()
	leaf := blockPages(t)[1]
	k, all := running(t)
	nonsense(t, k.path, int64(leaf))
	forget(t, k.j)
	require.NoError(t, k.Flush(ctx))
	require.Equal(t, model.RecordSound, k.Stand().State, "nothing has met it")
	_, err := k.Trace(ctx, "probe 0", noon, noon.Add(9*time.Hour))
	require.ErrorIs(t, err, ErrDamaged)
	require.NoError(t, k.Flush(ctx))
	require.Equal(t, model.RecordDamaged, k.Stand().State)
	requireWholeBut(t, all, readAll(t, k), k.Stand().Lost)
	marks, err := k.Marks(ctx)
	require.NoError(t, err)
	require.Len(t, marks, 3)
}

// The file is deleted, moved or replaced while it is in use: a mark is only confirmed when whoever opens the
// journal by its name finds it, with all from before.
func TestFileThatIsGoneIsWrittenAnew(t *testing.T) {
	ctx := context.Background()
	for name, c := range map[string]struct {
		take  func(t *testing.T, path string)
		state model.RecordState
		in    func(path string) string // file in which all is afterwards
	}{
		"deleted":          {func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) }, model.RecordSound, nil},
		"deleted with all": {func(t *testing.T, path string) { require.NoError(t, discard(path)) }, model.RecordSound, nil},
		"moved":            {func(t *testing.T, path string) { require.NoError(t, os.Rename(path, path+".old")) }, model.RecordSound, nil},
		"log deleted":      {func(t *testing.T, path string) { require.NoError(t, os.Remove(path+"-wal")) }, model.RecordSound, nil},
		"replaced": {func(t *testing.T, path string) {
			require.NoError(t, os.WriteFile(path+".new", []byte("Poured the frieze at noon."), 0o600))
			require.NoError(t, os.Rename(path+".new", path))
		}, model.RecordReplaced, func(path string) string { return RescueOf(path, 1) }},
	} {
		for _, by := range []string{"mark", "flush", "close"} {
			t.Run(name+", "+by, func(t *testing.T) {
				k, all := running(t)
				next := sensors.Reading{Probe: "probe 0", At: noon.Add(9 * time.Hour), Temp: sensors.GoodMeasure(19)}
				require.NoError(t, k.AppendReading(next))
				_, err := k.AppendMark(ctx, markOf("in the log"))
				require.NoError(t, err)
				c.take(t, k.path)
				want := 4
				switch by {
				case "mark":
					m, err := k.AppendMark(ctx, markOf("since"))
					require.NoError(t, err)
					require.EqualValues(t, 5, m.ID)
					want = 5
				case "flush":
					require.NoError(t, k.Flush(ctx))
				}
				path := k.path
				if c.in != nil {
					path = c.in(path)
				}
				if by == "close" {
					require.NoError(t, k.Close(ctx))
				} else {
					require.Equal(t, c.state, k.Stand().State)
					require.True(t, k.Renewed())
				}
				j, err := Open(ctx, path, Options{ReadOnly: true}) // as it would be found after a power cut
				require.NoError(t, err)
				marks, err := j.Marks(ctx)
				require.NoError(t, err)
				require.Len(t, marks, want)
				require.Equal(t, append(all, next), everything(t, j))
				require.NoError(t, j.Close(ctx))
			})
		}
	}
}

// While the folder itself is gone nothing is confirmed; when it is back all goes on.
func TestFolderThatIsGone(t *testing.T) {
	ctx := context.Background()
	k, all := running(t)
	folder := filepath.Dir(k.path)
	require.NoError(t, os.Rename(folder, folder+"-away"))
	_, err := k.AppendMark(ctx, markOf("nowhere"))
	require.ErrorIs(t, err, ErrGone)
	require.ErrorIs(t, k.Flush(ctx), ErrGone)
	require.NoError(t, os.Rename(folder+"-away", folder))
	require.NoError(t, k.Flush(ctx))
	_, err = k.AppendMark(ctx, markOf("since"))
	require.NoError(t, err)
	require.Equal(t, all, readAll(t, k))
	require.Equal(t, model.RecordSound, k.Stand().State)
}

// Where nothing can stand in for a file that turns out damaged, the record is in memory: measuring goes on,
// marks are refused, and when there is a place again all goes there.
func TestDamageMetWhileRunningAndNoPlaceForARescue(t *testing.T) {
	ctx := context.Background()
	k, all := running(t)
	nonsense(t, k.path, rootOf(t, k.j, "tail"))
	forget(t, k.j)
	require.NoError(t, os.Mkdir(RescueOf(k.path, 1), 0o755))
	next := sensors.Reading{Probe: "probe 9", At: noon.Add(9 * time.Hour), Temp: sensors.GoodMeasure(19)}
	require.NoError(t, k.AppendReading(next))
	require.ErrorIs(t, k.Flush(ctx), ErrDamaged)
	require.True(t, k.Stand().InMemory)
	_, err := k.AppendMark(ctx, markOf("refused"))
	require.ErrorIs(t, err, ErrDamaged)
	require.Equal(t, 1, k.Waiting())
	require.Contains(t, readAll(t, k), next)
	require.NoError(t, os.Remove(RescueOf(k.path, 1)))
	require.NoError(t, k.Flush(ctx))
	require.False(t, k.Stand().InMemory)
	require.Equal(t, RescueOf(k.path, 1), k.Stand().Rescue)
	got := readAll(t, k)
	require.Contains(t, got, next)
	require.Greater(t, len(got), len(all)/2)
	_, err = k.AppendMark(ctx, markOf("taken"))
	require.NoError(t, errors.Join(err, k.Close(ctx)))
}
