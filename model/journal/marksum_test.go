package journal

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors"
)

// marked is a closed journal of eight marks, the last of which correct and withdraw others; and the marks.
func marked(t *testing.T) (path string, all []model.Mark) {
	t.Helper()
	ctx := context.Background()
	path = newPath(t)
	j := opened(t, path, Options{})
	put := func(m model.Mark) {
		m.ID = 0
		kept, err := j.AppendMark(ctx, m)
		require.NoError(t, err)
		all = append(all, kept)
	}
	for id := range int64(6) {
		put(killMark(id + 1))
	}
	put(model.Mark{Kind: model.Poured, Mold: "frieze", At: noon, Entered: noon.Add(time.Hour), Corrects: 2, FilmUM: 12.5})
	put(model.Mark{Kind: model.Withdrawn, Mold: "frieze", At: noon, Entered: noon.Add(time.Hour), Corrects: 3})
	require.NoError(t, j.Close(ctx))
	return path, all
}

// changeMark does to a mark what a bad card may do: SQLite is not asked to check anything.
func changeMark(t *testing.T, path, set string, id int64) {
	t.Helper()
	db, err := connect(path, "", 1)
	require.NoError(t, err)
	defer db.Close()
	_, err = db.Exec("UPDATE marks SET "+set+" WHERE id = ?", id)
	require.NoError(t, err)
}

// Whatever byte of the page of marks is changed: no mark comes back changed, and none is missing of which nothing
// is told. Changed text, numbers and times are what the checksums are for: SQLite's own check passes them.
func TestChangedBytesNeverPassForMarks(t *testing.T) {
	ctx := context.Background()
	path, all := marked(t)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	db, err := connect(path, readQuery, 1)
	require.NoError(t, err)
	var root int
	require.NoError(t, db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'marks'").Scan(&root))
	require.NoError(t, db.Close())
	known := map[string]bool{}
	for _, m := range all {
		known[fmt.Sprintf("%+v", m)] = true
		m.Corrects = 0 // what it corrects may be lost
		known[fmt.Sprintf("%+v", m)] = true
	}
	var bySum, byStructure int
	copied := filepath.Join(t.TempDir(), "copy.journal")
	for at := (root - 1) * pageSize; at < root*pageSize; at += thinned {
		if whole[at] == 0 && at > (root-1)*pageSize+100 && at%7 != 0 {
			continue // mostly the gap in the middle of the page
		}
		data := append([]byte(nil), whole...)
		data[at] ^= 1 << (at % 8)
		require.NoError(t, os.WriteFile(copied, data, 0o600))
		j, err := Open(ctx, copied, Options{ReadOnly: true})
		if err != nil {
			byStructure++
			continue
		}
		marks, err := j.Marks(ctx)
		if err == nil {
			require.Len(t, marks, len(all), "byte %d of the page", at%pageSize)
		} else {
			bySum++
		}
		for _, m := range marks {
			require.True(t, known[fmt.Sprintf("%+v", m)], "byte %d of the page: %+v was never recorded", at%pageSize, m)
		}
		require.NoError(t, j.Close(ctx))
	}
	t.Logf("found by SQLite's check: %d; by checksums: %d", byStructure, bySum)
	require.Greater(t, bySum, 300/thinned/2)
}

// A mark that was changed on disk is left out and told with what it says now; the rest goes on, what corrected it
// stands for itself, and mending makes a journal without it.
func TestChangedMarkIsToldAndTheRestGoesOn(t *testing.T) {
	ctx := context.Background()
	path, all := marked(t)
	changeMark(t, path, "at_ms = at_ms + 3600000", 2)
	changeMark(t, path, "note = 'check\u001b 9', batch = '{'", 3)
	k := kept(t, path)
	require.Equal(t, model.RecordSound, k.Stand().State, "nothing was read yet")
	lost := model.Lost{Changed: []model.LostMark{
		{ID: 2, Reads: "frieze: checked: cup tacky, 2026-01-12T13:02:00Z, check 2"},
		{ID: 3, Reads: "frieze: checked: cup tacky, 2026-01-12T12:03:00Z, check? 9"},
	}}
	alone := all[6]
	alone.Corrects = 0
	want := []model.Mark{all[0], all[3], all[4], all[5], alone}
	for range 2 {
		marks, err := k.Marks(ctx)
		require.NoError(t, err)
		require.Equal(t, want, marks)
		require.Equal(t, model.RecordMarred, k.Stand().State)
		require.Equal(t, lost, k.Stand().Lost)
	}
	m, err := k.AppendMark(ctx, markOf("entered again"))
	require.NoError(t, err)
	require.EqualValues(t, 9, m.ID)
	require.NoError(t, k.Close(ctx))

	only, err := Open(ctx, path, Options{ReadOnly: true})
	require.NoError(t, err)
	_, err = only.Marks(ctx)
	require.ErrorIs(t, err, ErrDamaged)
	require.ErrorContains(t, err, `mark 2, which now reads "frieze: checked: cup tacky, 2026-01-12T13:02:00Z, check 2" (checksum does not match); mark 3, `)
	require.NoError(t, only.Close(ctx))

	to := path + ".mended"
	told, err := Mend(ctx, path, to, Options{})
	require.NoError(t, err)
	require.Equal(t, lost, told)
	j := opened(t, to, Options{})
	marks, err := j.Marks(ctx)
	require.NoError(t, err)
	require.Equal(t, append(want, m), marks)
}

// When the record is dated anew, a changed mark stays as it is and is told as before; the others are whole
// afterwards.
func TestChangedMarkIsNotDatedAnew(t *testing.T) {
	ctx := context.Background()
	path, all := marked(t)
	changeMark(t, path, "note = 'check 7'", 2)
	k := kept(t, path)
	moved, err := k.Redate(ctx, sensors.Boot{ID: "b", Zero: noon, First: noon}, time.Hour)
	require.NoError(t, err)
	require.Equal(t, noon.Add(time.Hour), moved.First)
	marks, err := k.Marks(ctx)
	require.NoError(t, err)
	require.Len(t, marks, len(all)-1)
	require.Equal(t, all[0].At.Add(time.Hour), marks[0].At)
	require.Equal(t, []model.LostMark{{ID: 2, Reads: "frieze: checked: cup tacky, 2026-01-12T12:02:00Z, check 7"}}, k.Stand().Lost.Changed)
}

// Marks of a journal that was written before marks had a checksum get theirs when it is brought up to date.
func TestOldMarksGetTheirChecksum(t *testing.T) {
	ctx := context.Background()
	data, err := os.ReadFile("testdata/version7.sqlite")
	require.NoError(t, err)
	path := image(t, data, nil)
	j := opened(t, path, Options{})
	var without int
	require.NoError(t, j.read.QueryRow("SELECT count(*) FROM marks WHERE crc = -1").Scan(&without))
	require.Zero(t, without)
	require.NoError(t, j.Close(ctx))
	changeMark(t, path, "material = 'platinum sylicone'", 2)
	_, err = opened(t, path, Options{}).Marks(ctx)
	require.ErrorContains(t, err, "mark 2")
}

// A column that a later version adds says nothing in older rows, and leaves their checksums as they are.
func TestChecksumOutlivesNewColumns(t *testing.T) {
	columns, values := []string{"id", "mold", "film_um"}, []any{int64(1), "frieze", 12.5}
	sum := sumOf(columns, values)
	require.Equal(t, sum, sumOf(append(columns, "later", "sooner", "never"), append(values, "", int64(0), 0.0)))
	for i, v := range []any{int64(2), "friezf", 12.25} {
		other := append([]any(nil), values...)
		other[i] = v
		require.NotEqual(t, sum, sumOf(columns, other))
	}
	require.NotEqual(t, sumOf([]string{"a", "b"}, []any{"x", ""}), sumOf([]string{"a", "b"}, []any{"", "x"}), "the same text elsewhere")
}

// A damaged mark whose file is copied to a rescue is told beside what else is lost, and not where the rescue has
// it from before.
func TestChangedMarkInARescue(t *testing.T) {
	ctx := context.Background()
	path, all := marked(t)
	changeMark(t, path, "finding = 'firm'", 4)
	spoilTail(t, path)
	k := kept(t, path)
	require.Equal(t, model.RecordDamaged, k.Stand().State)
	require.Len(t, k.Stand().Lost.Changed, 1)
	marks, err := k.Marks(ctx)
	require.NoError(t, err)
	require.Len(t, marks, len(all)-1)
	require.NoError(t, k.Close(ctx))

	changeMark(t, path, "note = 'check 0'", 5) // which the rescue has
	again := kept(t, path)
	require.Len(t, again.Stand().Lost.Changed, 1)
	require.EqualValues(t, 4, again.Stand().Lost.Changed[0].ID)
}

// spoilTail overwrites the page of the readings that are not packed.
func spoilTail(t *testing.T, path string) {
	t.Helper()
	db, err := connect(path, readQuery, 1)
	require.NoError(t, err)
	var root int64
	require.NoError(t, db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'tail'").Scan(&root))
	require.NoError(t, db.Close())
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteAt([]byte("nonsense where a page begins"), (root-1)*pageSize)
	require.NoError(t, err)
	require.NoError(t, f.Close())
}

// A reading that was not packed and is damaged is told as well.
func TestDamagedTailIsTold(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	appendAll(t, j, shop(0, 10, 1))
	require.NoError(t, j.Flush(ctx))
	_, err := j.write.Exec("UPDATE tail SET temp = temp + 1 WHERE id = 3")
	require.NoError(t, err)
	require.NoError(t, j.Close(ctx))
	stand := kept(t, path).Stand()
	require.Equal(t, model.RecordMarred, stand.State)
	require.True(t, stand.Lost.More)
}
