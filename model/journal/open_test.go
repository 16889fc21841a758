package journal

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors"
)

func TestSecondDaemonIsRefused(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	_, err := Open(ctx, path, Options{})
	require.ErrorIs(t, err, ErrInUse)
	require.ErrorContains(t, err, path)

	link := filepath.Join(t.TempDir(), "link.journal")
	require.NoError(t, os.Symlink(path, link))
	_, err = Open(ctx, link, Options{})
	require.ErrorIs(t, err, ErrInUse, "by another name")

	_, err = j.AppendMark(ctx, markOf("")) // the refused ones have not disturbed the first
	require.NoError(t, err)
	require.NoError(t, j.Close(ctx))
	opened(t, path, Options{})
}

func TestWhatIsNotAJournalIsLeftAlone(t *testing.T) {
	ctx := context.Background()
	other := filepath.Join(t.TempDir(), "other.sqlite")
	db, err := sql.Open("sqlite", other)
	require.NoError(t, err)
	_, err = db.Exec("CREATE TABLE recipes (id INTEGER PRIMARY KEY); PRAGMA user_version = 1")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	text := filepath.Join(t.TempDir(), "notes.txt")
	require.NoError(t, os.WriteFile(text, []byte("Poured the frieze at noon, cold in the annex.\n"), 0o600))

	for _, path := range []string{other, text} {
		before, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, opts := range []Options{{}, {ReadOnly: true}} {
			_, err = Open(ctx, path, opts)
			require.ErrorIs(t, err, ErrNotJournal)
			require.ErrorContains(t, err, path)
		}
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, before, after)
	}
}

func TestPathsThatCannotBeOpened(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	_, err := Open(ctx, filepath.Join(dir, "no folder", "shop.journal"), Options{})
	require.ErrorContains(t, err, "the folder must exist")
	_, err = Open(ctx, dir, Options{})
	require.ErrorContains(t, err, dir)
	_, err = Open(ctx, filepath.Join(dir, "none.journal"), Options{ReadOnly: true})
	require.ErrorIs(t, err, fs.ErrNotExist)
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	require.NoError(t, err)
	require.Empty(t, left, "nothing was created")
}

func TestOddPathsWork(t *testing.T) {
	path := filepath.Join(t.TempDir(), "100% wax? #2 & ä.journal")
	j := opened(t, path, Options{})
	appendAll(t, j, shop(0, 10, 2))
	require.NoError(t, j.Flush(context.Background()))
	require.FileExists(t, path)
	require.Len(t, everything(t, opened(t, path, Options{ReadOnly: true})), 10)
}

func TestJournalForReadingTakesNothing(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	opened(t, path, Options{})
	j := opened(t, path, Options{ReadOnly: true})
	require.ErrorContains(t, j.AppendReading(benchReading(0, 1)), "opened for reading alone")
	require.ErrorContains(t, j.Flush(ctx), "opened for reading alone")
	_, err := j.AppendMark(ctx, markOf(""))
	require.ErrorContains(t, err, "opened for reading alone")
}

func TestClosedJournalSaysSo(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	require.NoError(t, j.Close(ctx))
	require.NoError(t, j.Close(ctx))
	require.ErrorIs(t, j.AppendReading(benchReading(0, 1)), ErrClosed)
	require.ErrorIs(t, j.Flush(ctx), ErrClosed)
	_, err := j.AppendMark(ctx, markOf(""))
	require.ErrorIs(t, err, ErrClosed)
	_, err = j.Marks(ctx)
	require.ErrorContains(t, err, "database is closed")
}

// Close leaves one file with everything in it, and an empty lock.
func TestCloseLeavesOneFile(t *testing.T) {
	path := newPath(t)
	j := opened(t, path, Options{})
	appendAll(t, j, shop(0, 3000, 2))
	require.NoError(t, j.Close(context.Background()))
	left, err := filepath.Glob(path + "*")
	require.NoError(t, err)
	require.Equal(t, []string{path, path + "-lock"}, left)
	info, err := os.Stat(path + "-lock")
	require.NoError(t, err)
	require.Zero(t, info.Size())
}

// Settings that the promises rest on, see https://www.sqlite.org/pragma.html.
func TestWriterSettings(t *testing.T) {
	j := opened(t, newPath(t), Options{})
	for pragma, want := range map[string]string{
		"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "cell_size_check": "1",
		"busy_timeout": "2000", "wal_autocheckpoint": "1000", "journal_size_limit": "4194304",
	} {
		var got string
		require.NoError(t, j.write.QueryRow("PRAGMA "+pragma).Scan(&got))
		require.Equal(t, want, got, pragma)
	}
}

func TestCheckThatDoesNotEndInTimeIsGivenUp(t *testing.T) {
	path := newPath(t)
	j := opened(t, path, Options{})
	appendAll(t, j, shop(0, 3000, 2))
	require.NoError(t, j.Close(context.Background()))
	opened(t, path, Options{CheckBudget: 1})
}

// released is how many migrations there are.
func released(t *testing.T) int {
	steps, err := migrations(embedded())
	require.NoError(t, err)
	return len(steps)
}

// schemaWith is the released schema with one more migration, unless that is empty.
func schemaWith(t *testing.T, next string) fs.FS {
	files := fstest.MapFS{}
	names, err := fs.Glob(embedded(), "schema/*.sql")
	require.NoError(t, err)
	for _, name := range names {
		data, err := fs.ReadFile(embedded(), name)
		require.NoError(t, err)
		files[name] = &fstest.MapFile{Data: data}
	}
	if next != "" {
		files[fmt.Sprintf("schema/%04d_count_probes.sql", released(t)+1)] = &fstest.MapFile{Data: []byte(next)}
	}
	return files
}

func TestOlderJournalIsBroughtUpToDate(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	all := shop(0, 3000, 2)
	appendAll(t, j, all)
	require.NoError(t, j.Close(ctx))

	next := schemaWith(t, "CREATE TABLE counted AS SELECT count(*) AS n FROM probes;")
	_, err := open(ctx, path, Options{ReadOnly: true}, next)
	require.ErrorContains(t, err, "start the daemon on it once")

	newer, err := open(ctx, path, Options{}, next)
	require.NoError(t, err)
	require.Equal(t, 1, rowsOf(t, newer, "counted"))
	require.Equal(t, all, everything(t, newer))
	require.NoError(t, newer.Close(ctx))

	for _, opts := range []Options{{}, {ReadOnly: true}} {
		_, err = Open(ctx, path, opts)
		require.ErrorIs(t, err, ErrNewer)
		require.ErrorContains(t, err, fmt.Sprintf("schema version %d, known up to %d", released(t)+1, released(t)))
	}
}

func TestFailedMigrationChangesNothing(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	all := shop(0, 100, 2)
	appendAll(t, j, all)
	require.NoError(t, j.Close(ctx))
	_, err := open(ctx, path, Options{}, schemaWith(t, "DROP TABLE tail; SELECT no_such_function();"))
	require.ErrorContains(t, err, fmt.Sprintf("change %d (count probes)", released(t)+1))
	require.Equal(t, all, everything(t, opened(t, path, Options{})))
}

func TestMigrationsAreNumberedWithoutGaps(t *testing.T) {
	for _, name := range []string{"0099_skips.sql", "second.sql"} {
		files := schemaWith(t, "").(fstest.MapFS)
		files["schema/"+name] = &fstest.MapFile{}
		_, err := migrations(files)
		require.ErrorContains(t, err, name+fmt.Sprintf(": want number %04d", released(t)+1))
	}
}

var update = flag.Bool("update", false, "write testdata/version*.sqlite of the newest schema anew")

func fixture() ([]sensors.Reading, []model.Mark) {
	readings := shop(0, 900, 2) // 75 minutes: packed and unpacked ones
	readings[5].Humidity = sensors.Measure{}
	readings[6].Temp = sensors.Measure{Value: 85, Quality: sensors.Bad, Fault: sensors.PowerOn}
	first := killMark(1)
	second := model.Mark{ID: 2, Kind: model.Withdrawn, Mold: "frieze", At: noon.Add(time.Hour),
		Entered: noon.Add(2 * time.Hour), Corrects: 1, Title: "Frieze, east", Place: "annex", Surface: "pattern",
		Material: "platinum silicone", Note: "was the other cup"}
	return readings, []model.Mark{first, second}
}

// A journal of each released schema must stay readable. Each file was written by the code of its version.
func TestJournalOfEveryVersionIsRead(t *testing.T) {
	readings, marks := fixture()
	if *update {
		writeFixture(t, fmt.Sprintf("testdata/version%d.sqlite", released(t)), readings, marks)
	}
	for version := 1; version <= released(t); version++ {
		readFixture(t, fmt.Sprintf("testdata/version%d.sqlite", version), readings, marks)
	}
}

func readFixture(t *testing.T, kept string, readings []sensors.Reading, marks []model.Mark) {
	ctx := context.Background()
	data, err := os.ReadFile(kept)
	require.NoError(t, err)
	path := newPath(t)
	require.NoError(t, os.WriteFile(path, data, 0o600))
	j := opened(t, path, Options{})
	require.Equal(t, readings, everything(t, j))
	got, err := j.Marks(ctx)
	require.NoError(t, err)
	require.Equal(t, marks, got)
}

func writeFixture(t *testing.T, kept string, readings []sensors.Reading, marks []model.Mark) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	appendAll(t, j, readings)
	require.NoError(t, j.Flush(ctx))
	for _, m := range marks {
		m.ID = 0
		_, err := j.AppendMark(ctx, m)
		require.NoError(t, err)
	}
	_, err := j.write.Exec("VACUUM")
	require.NoError(t, err)
	require.NoError(t, j.Close(ctx))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(kept, data, 0o600))
}
