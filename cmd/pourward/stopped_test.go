package main

import (
	"cmp"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

var (
	stops    = flag.Int("stops", 24, "how often the daemon is told to stop")
	stopSeed = flag.Uint64("stops.seed", 0, "seed that the instants are drawn from; 0 draws one")
)

// stopping is a shop whose daemon is told to stop at any instant, again and again.
type stopping struct {
	confirmed
	file, journal string
	stops         int
	longest       time.Duration // that one took to end
}

func stoppingAt(t *testing.T) *stopping {
	t.Helper()
	file := pushedConfig(t)
	return &stopping{file: file, journal: filepath.Join(filepath.Dir(file), "annex.journal")}
}

// stop starts the daemon, sends it a signal while readings and marks come, and tells what is not as it must
// be when it has ended.
func (s *stopping) stop(t *testing.T, how syscall.Signal, after time.Duration) (wrong []string) {
	d := serving(t, "serve", "-config", s.file)
	var busy sync.WaitGroup
	for i, prefer := range []string{untilSafe, untilSafe, untilSafe, untilSafe, "", "", "", ""} {
		busy.Go(func() { s.push(d.url, fmt.Sprint("p", i/2), prefer) })
	}
	busy.Go(func() { s.mark(d) })
	<-time.After(after)
	told := time.Now()
	if code := d.signal(how); code != 0 {
		wrong = append(wrong, fmt.Sprintf("exit code %d after %v: %s", code, how, &d.errs))
	}
	took := time.Since(told)
	if s.longest = max(s.longest, took); took >= 5*time.Second {
		wrong = append(wrong, fmt.Sprintf("it took %v to end after %v", took, how))
	}
	if log, err := os.Stat(s.journal + "-wal"); err == nil && log.Size() > 0 {
		wrong = append(wrong, fmt.Sprintf("%d bytes are left in the write-ahead log after %v", log.Size(), how))
	}
	busy.Wait()
	s.stops++
	return wrong
}

// lost tells what was answered for and is not on record, once.
func (s *stopping) lost(t *testing.T) (lost []string) {
	marks, readings := onRecord(t, s.journal)
	times := map[int64]int{}
	for _, r := range readings {
		times[sensors.TempSteps(r.Temp.Value)]++
	}
	for what, all := range map[string][]int64{"was confirmed": s.temps, "was taken": s.taken} {
		for _, steps := range all {
			if times[steps] != 1 {
				lost = append(lost, fmt.Sprintf("the reading of %v °C, which %s, is %d times on record", sensors.TempFromSteps(steps), what, times[steps]))
			}
		}
	}
	if len(marks) < s.marks || len(marks) > s.marks+s.stops {
		lost = append(lost, fmt.Sprintf("%d marks were confirmed, and %d are on record", s.marks, len(marks)))
	}
	return lost
}

// The daemon is told to stop at any instant, by each of the three signals, while readings are pushed and marks
// are entered. It ends in order within 5 s, its write-ahead log is empty, and everything that it answered
// for is on record: what it confirmed as safe, and also what it had only taken.
func TestStoppedDaemonKeepsWhatItHas(t *testing.T) {
	t.Parallel() // it waits more than it works
	seed := cmp.Or(*stopSeed, rand.Uint64())
	t.Logf("%d stops; repeat with -stops.seed=%d", *stops, seed)
	random := rand.New(rand.NewPCG(seed, 0))
	s := stoppingAt(t)
	for i := range *stops {
		how := []syscall.Signal{syscall.SIGTERM, syscall.SIGINT, syscall.SIGHUP}[i%3]
		after := time.Duration(random.IntN(400)) * time.Millisecond
		if i%5 == 0 {
			after += time.Second // so that readings are confirmed, too
		}
		require.Empty(t, s.stop(t, how, after))
	}
	require.NotEmpty(t, s.taken)
	require.NotEmpty(t, s.temps)
	require.Empty(t, s.lost(t))
	t.Logf("confirmed were %d readings and %d marks, taken %d more; the slowest end took %v", len(s.temps), s.marks, len(s.taken), s.longest)
}

// What the stops must find out: a daemon that ends at once, as SIGKILL makes it.
func TestStopFindsAnEndOutOfOrder(t *testing.T) {
	t.Parallel()
	s := stoppingAt(t)
	d := serving(t, "serve", "-config", s.file)
	d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	s.marks = 1
	require.Zero(t, d.signal(syscall.SIGTERM))
	var lost []string
	for range 5 { // a mark makes the readings before it safe: a kill right after one loses nothing
		wrong := s.stop(t, syscall.SIGKILL, 300*time.Millisecond)
		require.Len(t, wrong, 2, "its exit code and its log: %v", wrong)
		require.NotEmpty(t, s.taken)
		if lost = s.lost(t); len(lost) > 0 {
			break
		}
	}
	require.Contains(t, fmt.Sprint(lost), "which was taken, is 0 times on record")
}

// A daemon that was started so as to outlive its terminal does.
func TestDaemonThatOutlivesItsTerminal(t *testing.T) {
	t.Parallel()
	c := start(t, "sh", "-c", `trap "" HUP; exec pourward serve -config "$1"`, "sh", pushedConfig(t))
	d := &daemon{c, c.says(`page (http://127\.0\.0\.1:\d+)/ `)[1]}
	require.NoError(t, c.cmd.Process.Signal(syscall.SIGHUP))
	d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	require.Len(t, d.snapshot().Molds, 1)
	require.Zero(t, c.signal(syscall.SIGTERM))
}
