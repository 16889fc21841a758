package journal

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// POURWARD_KILLS is how often the writer is killed; POURWARD_VICTIM is set in the writer alone and
// holds its journal.
const (
	killsEnv  = "POURWARD_KILLS"
	victimEnv = "POURWARD_VICTIM"
)

func TestMain(m *testing.M) {
	if path := os.Getenv(victimEnv); path != "" {
		fmt.Println(write(path))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

const (
	killProbes = 4
	killGroup  = 24 // readings a flush: a minute of them
)

func killMark(id int64) model.Mark {
	at := noon.Add(time.Duration(id) * time.Minute)
	return model.Mark{ID: id, Kind: model.Checked, Mold: "frieze", At: at, Entered: at,
		Of: model.Cup, Found: model.Tacky, Note: fmt.Sprintf("check %d", id)}
}

// write goes on with the record at path until it is killed. It says what is safe in lines of the
// number of readings and marks.
func write(path string) error {
	ctx := context.Background()
	j, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	old, err := collect(j, noon, noon.AddDate(10, 0, 0))
	if err != nil {
		return err
	}
	marks, err := j.Marks(ctx)
	if err != nil {
		return err
	}
	read, marked := len(old), int64(len(marks))
	for round := 1; ; round++ {
		for range killGroup {
			if err := j.AppendReading(benchReading(read, killProbes)); err != nil {
				return err
			}
			read++
		}
		if round%5 == 0 {
			m := killMark(marked + 1)
			m.ID = 0
			if _, err := j.AppendMark(ctx, m); err != nil {
				return err
			}
			marked++
		} else if err := j.Flush(ctx); err != nil {
			return err
		}
		fmt.Println(read, marked)
	}
}

// killed runs a writer on path and kills it some time after it was started, or after it first
// confirmed a write. It returns what the writer said was safe.
func killed(t *testing.T, path string, after time.Duration, fromFirstWrite bool) (said count) {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	victim := exec.Command(self)
	kill := func() { time.AfterFunc(after, func() { victim.Process.Kill() }) }
	return until(t, victim, path, func(started bool) {
		if started != fromFirstWrite {
			kill()
		}
	})
}

// killedAt runs a writer on path that is killed as it makes a system call for the nth time in one of its threads.
func killedAt(t *testing.T, path, call string, n int) (said count) {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	strace, err := exec.LookPath("strace")
	require.NoError(t, err, "install Debian's package strace, which brings it")
	victim := exec.Command(strace, "-f", "-qq", "-o", os.DevNull, "-e", "trace="+call,
		"-e", fmt.Sprintf("inject=%s:signal=SIGKILL:when=%d", call, n), self)
	victim.Env = []string{"GOMAXPROCS=1"} // few threads, so that the nth call is soon reached
	return until(t, victim, path, func(bool) {})
}

// until runs a victim on path until it is killed; event is told that it is started, and that it first wrote.
func until(t *testing.T, victim *exec.Cmd, path string, event func(started bool)) (said count) {
	t.Helper()
	victim.Env = append(append(os.Environ(), victim.Env...), victimEnv+"="+path)
	victim.Stderr = os.Stderr
	out, err := victim.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, victim.Start())
	event(true)
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if said.readings == 0 {
			event(false)
		}
		_, err := fmt.Sscan(lines.Text(), &said.readings, &said.marks)
		require.NoError(t, err, lines.Text())
	}
	require.Error(t, victim.Wait(), "it ends only by the kill")
	return said
}

// A writer killed at any instant loses no confirmed mark and no confirmed flush, and leaves whole
// flushes only.
func TestKilledWriterKeepsWhatItConfirmed(t *testing.T) {
	kills := killsOr(t, 100)
	seed := rand.Uint64()
	t.Logf("%d kills, seed %d", kills, seed)
	random := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	for i := range kills {
		path := filepath.Join(dir, fmt.Sprintf("%d.journal", i/10)) // each file is killed ten times
		after := time.Duration(random.IntN(60_000)) * time.Microsecond
		requireKept(t, path, killed(t, path, after, i%2 == 1))
	}
}

// requireKept judges what a killed writer left by what it said.
func requireKept(t *testing.T, path string, said count) {
	t.Helper()
	kept := requirePrefix(t, path, killMark)
	require.GreaterOrEqual(t, kept.readings, said.readings, "confirmed readings")
	require.GreaterOrEqual(t, kept.marks, said.marks, "confirmed marks")
	require.Zero(t, kept.readings%killGroup, "a flush is whole or not there")
	if said.readings > 0 {
		require.LessOrEqual(t, kept.readings, said.readings+killGroup, "no more than was written")
		require.LessOrEqual(t, kept.marks, said.marks+1)
	}
}

// killsOr is how often to kill.
func killsOr(t *testing.T, usual int) int {
	t.Helper()
	s := os.Getenv(killsEnv)
	if s == "" {
		return usual
	}
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

type count struct {
	readings int
	marks    int64
}

// requirePrefix opens the journal as it was left and checks that it holds the first of the readings and
// marks, unchanged, and that the file is sound.
func requirePrefix(t testing.TB, path string, mark func(int64) model.Mark) count {
	t.Helper()
	ctx := context.Background()
	j, err := Open(ctx, path, Options{})
	require.NoError(t, err)
	got, err := collect(j, noon, noon.AddDate(10, 0, 0))
	require.NoError(t, err)
	for i, r := range got {
		if r != benchReading(i, killProbes) {
			require.Equal(t, benchReading(i, killProbes), r, "reading %d", i)
		}
	}
	marks, err := j.Marks(ctx)
	require.NoError(t, err)
	for i, m := range marks {
		require.Equal(t, mark(int64(i+1)), m)
	}
	var verdict string
	require.NoError(t, j.write.QueryRow("PRAGMA integrity_check").Scan(&verdict))
	require.Equal(t, "ok", verdict)
	require.NoError(t, j.Close(ctx))
	return count{readings: len(got), marks: int64(len(marks))}
}
