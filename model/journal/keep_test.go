package journal

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors"
)

// kept opens a keeper that is closed when the test ends.
func kept(t *testing.T, path string) *Keeper {
	t.Helper()
	k, err := Keep(context.Background(), path, Options{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = k.Close(context.Background()) }) // one in memory has nowhere to put what waits
	return k
}

// readAll reads everything that a keeper tells.
func readAll(t *testing.T, k *Keeper) (out []sensors.Reading) {
	t.Helper()
	require.NoError(t, k.Readings(context.Background(), time.Time{}, noon.AddDate(1, 0, 0), func(r sensors.Reading) error {
		out = append(out, r)
		return nil
	}))
	return out
}

// spoiled is a journal of eight hours with three marks, closed, with some of its pages overwritten.
func spoiled(t *testing.T, pages func(n int) []int) (path string, all []sensors.Reading) {
	t.Helper()
	ctx := context.Background()
	j, all := sealed(t)
	for range 3 {
		_, err := j.AppendMark(ctx, markOf(""))
		require.NoError(t, err)
	}
	require.NoError(t, j.Close(ctx))
	data, err := os.ReadFile(j.path)
	require.NoError(t, err)
	for _, n := range pages(len(data) / pageSize) {
		copy(data[n*pageSize:], "nonsense where a page begins")
	}
	return image(t, data, nil), all
}

// blockPages are the leaves of the table of blocks.
func blockPages(t *testing.T) []int {
	t.Helper()
	j, _ := sealed(t)
	rows, err := j.write.Query("SELECT pageno FROM dbstat WHERE name = 'blocks' AND pagetype = 'leaf' ORDER BY pageno")
	require.NoError(t, err)
	defer rows.Close()
	var pages []int
	for rows.Next() {
		var n int
		require.NoError(t, rows.Scan(&n))
		pages = append(pages, n-1)
	}
	require.NoError(t, rows.Err())
	require.Greater(t, len(pages), 2)
	return pages
}

// A page in the middle is damaged: what lies around it is kept, in a rescue journal, and the hours that lay
// on it are told. The damaged file is not touched. Marks go on with their numbers.
func TestDamagedJournalIsKeptInARescue(t *testing.T) {
	ctx := context.Background()
	leaves := blockPages(t)
	path, all := spoiled(t, func(int) []int { return leaves[1:2] })
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	k := kept(t, path)
	stand := k.Stand()
	require.Equal(t, model.RecordDamaged, stand.State)
	require.Equal(t, RescueOf(path, 1), stand.Rescue)
	require.False(t, stand.InMemory || stand.Blank || stand.Lost.More, "%+v", stand)
	require.NotEmpty(t, stand.Lost.Spans)
	requireWholeBut(t, all, readAll(t, k), stand.Lost)

	m, err := k.AppendMark(ctx, model.Mark{Kind: model.CoatOn, Mold: "m", At: noon, Entered: noon, Corrects: 2})
	require.NoError(t, err)
	require.EqualValues(t, 4, m.ID)
	require.NoError(t, k.AppendReading(sensors.Reading{Probe: "probe 0", At: noon.Add(9 * time.Hour), Temp: sensors.GoodMeasure(19)}))
	require.NoError(t, k.Flush(ctx))
	have := readAll(t, k)
	require.NoError(t, k.Close(ctx))

	again := kept(t, path)
	require.Equal(t, stand, again.Stand(), "the same rescue, and the same is lost")
	require.Equal(t, have, readAll(t, again))
	require.NoError(t, again.Close(ctx))
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)

	to := path + ".mended"
	lost, err := Mend(ctx, path, to, Options{})
	require.NoError(t, err)
	require.Equal(t, stand.Lost, lost)
	j := opened(t, to, Options{})
	require.Equal(t, have, everything(t, j))
	marks, err := j.Marks(ctx)
	require.NoError(t, err)
	require.Len(t, marks, 4)
	require.EqualValues(t, 2, marks[3].Corrects)
	after, err = os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)
}

// requireWholeBut wants every reading that is not in a lost span, and none that is.
func requireWholeBut(t *testing.T, all, got []sensors.Reading, lost model.Lost) {
	t.Helper()
	var want []sensors.Reading
	for _, r := range all {
		gone := false
		for _, s := range lost.Spans {
			gone = gone || s.Probe == r.Probe && !r.At.Before(s.From) && r.At.Before(s.To)
		}
		if !gone {
			want = append(want, r)
		}
	}
	require.Less(t, len(want), len(all), "something is lost")
	require.Greater(t, len(want), len(all)/4, "and much is not")
	require.Equal(t, want, got)
}

// Whatever page is overwritten: the daemon goes on, takes marks, and shows no reading that was not recorded.
// What is missing is told.
func TestAnyDamagedPageIsSurvived(t *testing.T) {
	ctx := context.Background()
	pages := 0
	_, _ = spoiled(t, func(n int) []int { pages = n; return nil })
	require.Greater(t, pages, 10)
	for page := range pages {
		path, all := spoiled(t, func(int) []int { return []int{page} })
		recorded := map[sensors.Reading]bool{}
		for _, r := range all {
			recorded[r] = true
		}
		k := kept(t, path)
		got := readAll(t, k)
		for _, r := range got {
			r.Probe = cleanName(r.Probe, recorded, r)
			require.True(t, recorded[r], "page %d: %v was never recorded", page, r)
		}
		marks, err := k.Marks(ctx)
		require.NoError(t, err)
		if s := k.Stand(); len(got) < len(all) || len(marks) < 3 {
			require.True(t, s.Lost.Any() || s.Blank, "page %d: %d of %d readings and %d marks are there, and nothing is said: %+v", page, len(got), len(all), len(marks), s)
		}
		_, err = k.AppendMark(ctx, markOf(""))
		require.NoError(t, err, "page %d", page)
		require.NoError(t, k.Close(ctx))
	}
}

// In memory readings wait and no mark is taken; when the other daemon has gone all goes to the file, with
// what the other recorded.
func TestRecordInMemoryGoesBackToItsFile(t *testing.T) {
	ctx := context.Background()
	j, all := sealed(t)
	k := kept(t, j.path)
	require.Equal(t, model.RecordInUse, k.Stand().State)
	require.True(t, k.Stand().InMemory)
	require.Equal(t, all, readAll(t, k), "what is on record is known")

	mine := sensors.Reading{Probe: "probe 9", At: noon.Add(20 * time.Hour), Temp: sensors.GoodMeasure(19)}
	require.NoError(t, k.AppendReading(mine))
	require.ErrorIs(t, k.Flush(ctx), ErrInUse)
	require.Equal(t, 1, k.Waiting())
	_, err := k.AppendMark(ctx, markOf(""))
	require.ErrorContains(t, err, "another pourward keeps this journal")
	require.Equal(t, mine, readAll(t, k)[len(all)])
	require.False(t, k.Renewed())
	require.NoFileExists(t, RescueOf(j.path, 1))

	theirs := sensors.Reading{Probe: "probe 7", At: noon.Add(20 * time.Hour), Temp: sensors.GoodMeasure(7)}
	require.NoError(t, j.AppendReading(theirs))
	_, err = j.AppendMark(ctx, markOf(""))
	require.NoError(t, err)
	require.NoError(t, j.Close(ctx))
	require.NoError(t, k.Flush(ctx))
	require.True(t, k.Renewed())
	require.False(t, k.Renewed())
	require.Equal(t, model.RecordSound, k.Stand().State)
	require.Zero(t, k.Waiting())
	require.Equal(t, append(all, theirs, mine), readAll(t, k))
	m, err := k.AppendMark(ctx, markOf(""))
	require.NoError(t, err)
	require.EqualValues(t, 2, m.ID)
}

// What is dated anew while the record is in memory is so in the file, too.
func TestRecordInMemoryIsDatedAnewInItsFile(t *testing.T) {
	ctx := context.Background()
	folder := filepath.Join(t.TempDir(), "not mounted yet")
	path := filepath.Join(folder, "shop.journal")
	k := kept(t, path)
	require.Equal(t, model.RecordShut, k.Stand().State)
	boot := sensors.Boot{ID: "b", Zero: noon, First: noon}
	require.NoError(t, k.PutBoot(ctx, boot))
	require.NoError(t, k.AppendReading(sensors.Reading{Probe: "p", At: noon.Add(time.Minute), Temp: sensors.GoodMeasure(19)}))
	require.Error(t, k.Flush(ctx))

	require.NoError(t, os.Mkdir(folder, 0o755))
	j := opened(t, path, Options{})
	require.NoError(t, j.PutBoot(ctx, boot))
	early := sensors.Reading{Probe: "p", At: noon, Temp: sensors.GoodMeasure(18)}
	require.NoError(t, j.AppendReading(early))
	require.NoError(t, j.Close(ctx))
	boot.Trusted = true
	_, err := k.Redate(ctx, boot, time.Hour)
	require.NoError(t, err)
	require.Equal(t, noon.Add(61*time.Minute), readAll(t, k)[0].At)
	require.NoError(t, k.Flush(ctx))
	got := readAll(t, k)
	require.Len(t, got, 2)
	require.Equal(t, []time.Time{noon.Add(60 * time.Minute), noon.Add(61 * time.Minute)}, []time.Time{got[0].At, got[1].At})
}

// A rescue journal beside a journal that is sound again is told, and mending brings both together: marks that
// have the same number in both are both kept.
func TestMendBringsARescueTogether(t *testing.T) {
	ctx := context.Background()
	path, all := spoiled(t, func(int) []int { return nil })
	sound, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte("Poured the frieze at noon."), 0o600))
	k := kept(t, path)
	require.Equal(t, model.RecordForeign, k.Stand().State)
	require.True(t, k.Stand().Blank)
	m := markOf("")
	m.Mold = "rescued"
	m, err = k.AppendMark(ctx, m)
	require.NoError(t, err)
	m.Corrects, m.ID = m.ID, 0
	_, err = k.AppendMark(ctx, m)
	require.NoError(t, err)
	_, err = Mend(ctx, path, path+".mended", Options{})
	require.ErrorIs(t, err, ErrInUse, "what the daemon adds would be missing")
	require.NoError(t, k.Close(ctx))

	require.NoError(t, os.WriteFile(path, sound, 0o600)) // from a backup
	back := kept(t, path)
	require.Equal(t, model.RecordApart, back.Stand().State)
	require.NoError(t, back.Close(ctx))
	lost, err := Mend(ctx, path, path+".mended", Options{})
	require.NoError(t, err)
	require.False(t, lost.Any())
	j := opened(t, path+".mended", Options{})
	require.Equal(t, all, everything(t, j))
	marks, err := j.Marks(ctx)
	require.NoError(t, err)
	require.Len(t, marks, 5)
	for _, m := range marks {
		if m.Mold == "rescued" && m.Corrects != 0 {
			require.EqualValues(t, 1, m.Corrects)
		}
	}
}

func TestMendRefuses(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "none.journal")
	_, err := Mend(ctx, path, path+".mended", Options{})
	require.ErrorIs(t, err, os.ErrNotExist)
	require.NoError(t, os.WriteFile(path, []byte("Poured the frieze at noon."), 0o600))
	_, err = Mend(ctx, path, path+".mended", Options{})
	require.ErrorIs(t, err, ErrNothingWhole)
	require.NoFileExists(t, path+".mended")
	require.NoError(t, os.Remove(path))
	j := opened(t, path, Options{})
	_, err = j.write.Exec("PRAGMA user_version = 9999")
	require.NoError(t, errors.Join(err, j.Close(ctx)))
	_, err = Mend(ctx, path, path+".mended", Options{})
	require.ErrorIs(t, err, ErrNewer)
}
