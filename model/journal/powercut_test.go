package journal

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// promise is what was confirmed when the write-ahead log had grown to a length. All of the log up to
// there has been synced, so a power cut cannot take it; what comes later it can.
type promise struct {
	length int
	count
}

const pageSize = 4096

// writeThreeHours fills a new journal, with two seals, and returns its files as they are while it is
// open: the write-ahead log has everything since the file was begun.
func writeThreeHours(t *testing.T) (file, log []byte, promises []promise) {
	ctx := context.Background()
	path := newPath(t)
	j := opened(t, path, Options{})
	read := func(name string) []byte {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		return b
	}
	file = read(path)
	promises = []promise{{length: len(read(path + "-wal"))}}
	now := promises[0]
	for round := range 180 {
		appendAll(t, j, shop(now.readings, killGroup, killProbes))
		now.readings += killGroup
		if round%7 == 0 {
			now.marks++
			m := killMark(now.marks)
			m.ID = 0
			_, err := j.AppendMark(ctx, m)
			require.NoError(t, err)
		} else {
			require.NoError(t, j.Flush(ctx))
		}
		now.length = len(read(path + "-wal"))
		require.Greater(t, now.length, promises[len(promises)-1].length, "no checkpoint came between")
		promises = append(promises, now)
	}
	require.Equal(t, file, read(path), "all is in the log")
	return file, read(path + "-wal"), promises
}

// image lays out files as a power cut may have left them.
func image(t *testing.T, file, log []byte) string {
	path := filepath.Join(t.TempDir(), "cut.journal")
	require.NoError(t, os.WriteFile(path, file, 0o600))
	require.NoError(t, os.WriteFile(path+"-wal", log, 0o600))
	return path
}

// The log ends anywhere, or ends in a sector of nonsense: what was confirmed up to there is kept.
func TestPowerCutInTheLog(t *testing.T) {
	file, log, promises := writeThreeHours(t)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range 48 {
		cut := random.IntN(len(log) + 1)
		switch i % 4 {
		case 0: // at a commit, to the byte
			cut = promises[random.IntN(len(promises))].length
		case 1: // just before one
			cut = promises[random.IntN(len(promises))].length - 1
		}
		torn := slices.Clone(log[:cut])
		if i%2 == 1 {
			for _, b := range log[cut:min(cut+512, len(log))] {
				torn = append(torn, b^byte(1+random.IntN(255))) // never what belongs there
			}
		}
		kept := requirePrefix(t, image(t, file, torn), killMark)
		want := promise{}
		for _, p := range promises {
			if p.length <= cut {
				want = p
			}
		}
		require.Equal(t, want.count, kept, "log of %d bytes cut at %d", len(log), cut)
	}
}

// While the log is moved into the file, any of the pages may be written, in any order, and one be torn.
func TestPowerCutInACheckpoint(t *testing.T) {
	before, log, promises := writeThreeHours(t)
	j := opened(t, image(t, before, log), Options{})
	_, err := j.write.Exec("PRAGMA wal_checkpoint(FULL)")
	require.NoError(t, err)
	after, err := os.ReadFile(j.path)
	require.NoError(t, err)

	random := rand.New(rand.NewPCG(3, 4))
	for range 12 {
		mixed := slices.Clone(after)
		for at := 0; at < len(mixed); at += pageSize {
			switch random.IntN(3) {
			case 0: // not written; where the file was shorter it has a hole
				n := copy(mixed[at:at+pageSize], before[min(at, len(before)):])
				clear(mixed[at+n : at+pageSize])
			case 1: // torn
				copy(mixed[at:at+512], before[min(at, len(before)):])
			}
		}
		require.Equal(t, promises[len(promises)-1].count, requirePrefix(t, image(t, mixed, log), killMark))
	}
}
