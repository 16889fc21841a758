package journal

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// fill makes the disk look full: the file may not grow any more.
func fill(t *testing.T, j *Journal) {
	var pages int
	require.NoError(t, j.write.QueryRow("PRAGMA page_count").Scan(&pages))
	limit(t, j, pages)
}

func limit(t *testing.T, j *Journal, pages int) {
	var now int
	require.NoError(t, j.write.QueryRow(fmt.Sprintf("PRAGMA max_page_count = %d", pages)).Scan(&now))
	require.Equal(t, pages, now)
}

func markOf(note string) model.Mark {
	return model.Mark{Kind: model.Poured, Mold: "frieze", At: noon, Entered: noon, Note: note}
}

func TestFullDiskLosesNothing(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	first, err := j.AppendMark(ctx, markOf("before"))
	require.NoError(t, err)
	all := shop(0, 8000, 4)
	appendAll(t, j, all[:1000])
	require.NoError(t, j.Flush(ctx))

	fill(t, j)
	appendAll(t, j, all[1000:7000]) // turns the hour twice, so packing fails too
	for range 3 {
		err = j.Flush(ctx)
		require.ErrorIs(t, err, ErrNoSpace)
		require.ErrorContains(t, err, path)
		require.ErrorContains(t, err, "6000 readings wait in memory")
		require.Equal(t, 6000, j.Waiting())
	}
	second, err := j.AppendMark(ctx, markOf("the mark still fits, the readings do not"))
	require.NoError(t, err)
	require.Equal(t, 6000, j.Waiting())
	long := markOf(string(bytes.Repeat([]byte("long "), 4000)))
	_, err = j.AppendMark(ctx, long)
	require.ErrorIs(t, err, ErrNoSpace, "a mark is confirmed only when it is written")
	require.Equal(t, all[:7000], everything(t, j))

	limit(t, j, 1_000_000)
	appendAll(t, j, all[7000:])
	require.NoError(t, j.Flush(ctx))
	require.Zero(t, j.Waiting())
	third, err := j.AppendMark(ctx, long)
	require.NoError(t, err)
	require.NoError(t, j.Close(ctx))

	again := opened(t, path, Options{})
	require.Equal(t, all, everything(t, again))
	marks, err := again.Marks(ctx)
	require.NoError(t, err)
	require.Equal(t, []model.Mark{first, second, third}, marks)
}

func TestTooManyWaitingReadingsAreGivenUpLoudly(t *testing.T) {
	ctx := context.Background()
	var log bytes.Buffer
	path := newPath(t)
	j := opened(t, path, Options{MaxWaiting: 600, Log: slog.New(slog.NewTextHandler(&log, nil))})
	all := shop(0, 1000, 4)
	appendAll(t, j, all[:100])
	require.NoError(t, j.Flush(ctx))
	fill(t, j)
	appendAll(t, j, all[100:])
	require.Equal(t, 600, j.Waiting())
	require.EqualValues(t, 300, j.Lost())
	require.ErrorContains(t, j.Flush(ctx), "300 readings were given up, 600 wait")
	require.Contains(t, log.String(), "the oldest are given up")
	limit(t, j, 1_000_000)
	require.NoError(t, j.Flush(ctx))
	require.Equal(t, append(all[:100:100], all[400:]...), everything(t, j), "the newest are kept")
}

// refuse makes one kind of write fail.
func refuse(t *testing.T, j *Journal, table string) (allow func()) {
	_, err := j.write.Exec(fmt.Sprintf(
		"CREATE TRIGGER refuse BEFORE INSERT ON %s BEGIN SELECT RAISE(ABORT, 'refused'); END", table))
	require.NoError(t, err)
	return func() {
		_, err := j.write.Exec("DROP TRIGGER refuse")
		require.NoError(t, err)
	}
}

func rowsOf(t *testing.T, j *Journal, table string) int {
	var n int
	require.NoError(t, j.write.QueryRow("SELECT count(*) FROM "+table).Scan(&n))
	return n
}

func TestReadingsAreSafeEvenIfPackingFails(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	var log bytes.Buffer
	j := opened(t, path, Options{Log: slog.New(slog.NewTextHandler(&log, nil))})
	all := shop(0, 1500, 2) // two hours
	allow := refuse(t, j, "blocks")
	appendAll(t, j, all[:1000])
	require.NoError(t, j.Flush(ctx))
	require.Zero(t, j.Waiting())
	require.Contains(t, log.String(), "could not be packed")
	require.Equal(t, 1000, rowsOf(t, j, "tail"))

	allow()
	appendAll(t, j, all[1000:])
	require.NoError(t, j.Flush(ctx))
	require.Equal(t, 4, rowsOf(t, j, "blocks"))
	require.Equal(t, 60, rowsOf(t, j, "tail"))
	require.NoError(t, j.Close(ctx))
	require.Equal(t, all, everything(t, opened(t, path, Options{})))
}

func TestMarkGoesInAloneIfReadingsCannot(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	allow := refuse(t, j, "tail")
	appendAll(t, j, shop(0, 10, 2))
	m, err := j.AppendMark(ctx, markOf(""))
	require.NoError(t, err)
	require.EqualValues(t, 1, m.ID)
	require.Equal(t, 10, j.Waiting())
	require.Error(t, j.Flush(ctx))
	allow()
	require.NoError(t, j.Flush(ctx))
	require.Zero(t, j.Waiting())
}

func TestCloseSaysWhatIsLost(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	j, err := Open(ctx, path, Options{})
	require.NoError(t, err)
	refuse(t, j, "tail")
	appendAll(t, j, shop(0, 10, 2))
	require.ErrorContains(t, j.Close(ctx), "10 readings are not in the record")
	opened(t, path, Options{}) // the lock is free all the same
}
