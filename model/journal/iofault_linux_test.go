package journal

import (
	"context"
	"math/rand/v2"
	"os"
	"os/signal"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// limitFiles makes writes of this process beyond a size fail with an I/O error (setrlimit(2),
// RLIMIT_FSIZE), until it is called with the limit that it returned.
func limitFiles(t *testing.T, size uint64) (old uint64) {
	var limit syscall.Rlimit
	require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &limit))
	old, limit.Cur = limit.Cur, min(size, limit.Max)
	require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit))
	return old
}

// The disk fails in the middle of a write, anywhere in it, again and again, and works again each time.
// What was refused is not in the record, what was confirmed is, and no reading is lost.
func TestFailingWritesLoseNothing(t *testing.T) {
	signal.Ignore(syscall.SIGXFSZ)
	defer signal.Reset(syscall.SIGXFSZ)
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	random := rand.New(rand.NewPCG(5, 6))
	var confirmed []model.Mark
	mark := func() error {
		m, err := j.AppendMark(ctx, markOf("tried"))
		if err == nil {
			confirmed = append(confirmed, m)
		}
		return err
	}
	read, failed := 0, 0
	for range 300 {
		n := 24 * (1 + random.IntN(40)) // up to 40 minutes: past hours are packed now and then
		appendAll(t, j, shop(read, n, killProbes))
		read += n
		log, err := os.Stat(path + "-wal")
		require.NoError(t, err)
		old := limitFiles(t, uint64(log.Size())+random.Uint64N(30_000))
		flushed, marked := j.Flush(ctx), mark()
		limitFiles(t, old)
		if flushed != nil || marked != nil {
			failed++
		}
		if random.IntN(3) == 0 {
			require.NoError(t, j.Flush(ctx))
			require.Zero(t, j.Waiting())
			require.NoError(t, mark())
		}
	}
	require.Greater(t, failed, 50, "the fault was met")
	require.NoError(t, j.Close(ctx))
	again := opened(t, path, Options{})
	require.Equal(t, shop(0, read, killProbes), everything(t, again))
	marks, err := again.Marks(ctx)
	require.NoError(t, err)
	require.Equal(t, confirmed, marks)
}
