package main

import (
	"net"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// underLimits starts the daemon in a shell that limits it first. The words before serve are the shell's: an
// assignment such as GOMAXPROCS=1, and how many files may be open.
func underLimits(t *testing.T, file, files string, env ...string) *child {
	t.Helper()
	script := `ulimit -n "$1" && shift && exec env "$@"`
	args := append([]string{"-c", script, "sh", files}, env...)
	return start(t, "sh", append(args, "pourward", "serve", "-config", file)...)
}

// A board that has next to nothing to spare: 64 MiB, one processor, 32 open files. The daemon starts, measures,
// records and shows; more visitors than it has files for do not end it, and when they go it goes on.
func TestDaemonUnderLimits(t *testing.T) {
	t.Parallel() // it waits more than it works
	for name, env := range map[string][]string{
		"files":                       nil,
		"memory":                      {"GOMEMLIMIT=64MiB"},
		"processor":                   {"GOMAXPROCS=1"},
		"files, memory and processor": {"GOMEMLIMIT=64MiB", "GOMAXPROCS=1"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			files := "1024"
			if strings.Contains(name, "files") {
				files = "32"
			}
			file, root := liveConfig(t)
			c := underLimits(t, file, files, env...)
			d := &daemon{c, c.says(`page (http://127\.0\.0\.1:\d+)/ `)[1]}
			eventually(t, "the thermometer is read", d.reads(25.875))
			d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
			if files == "32" {
				d.crowded(32)
			}
			plug(t, root, at25063)
			eventually(t, "it is read again", d.reads(25.063))
			eventually(t, "the record is written", func() bool {
				return value(t, string(d.get("/metrics")), "pourward_journal_failing") == 0
			})
			require.Contains(t, string(d.get("/")), "corbel")
			d.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
			s := d.snapshot()
			require.Zero(t, d.signal(syscall.SIGTERM))
			marks, readings := onRecord(t, filepath.Join(filepath.Dir(file), "annex.journal"))
			require.Equal(t, []int64{1, 2}, marks)
			require.GreaterOrEqual(t, uint64(len(readings)), s.Health.Readings, "no reading is lost")
		})
	}
}

// crowded opens more connections than the daemon may open files, each with a request that is never ended,
// waits until it has no file left, and closes them.
func (d *daemon) crowded(files int) {
	d.t.Helper()
	var limit unix.Rlimit
	require.NoError(d.t, unix.Prlimit(d.cmd.Process.Pid, unix.RLIMIT_NOFILE, nil, &limit))
	require.EqualValues(d.t, files, limit.Max, "the limit holds for the daemon itself")
	for range files {
		c, err := net.Dial("tcp", strings.TrimPrefix(d.url, "http://"))
		require.NoError(d.t, err)
		defer c.Close()
		_, err = c.Write([]byte("GET / HTTP/1.1\r\n"))
		require.NoError(d.t, err)
	}
	eventually(d.t, "it has no file left", func() bool {
		open, err := filepath.Glob(filepath.Join("/proc", strconv.Itoa(d.cmd.Process.Pid), "fd", "*"))
		require.NoError(d.t, err)
		return len(open) >= files
	})
}

// What the limits must find out: that they hold. With too few files for a journal the daemon says so at once, and
// shows its page all the same.
func TestLimitsThatLeaveTooLittle(t *testing.T) {
	t.Parallel()
	file, _ := liveConfig(t)
	c := underLimits(t, file, "10")
	c.says("the record cannot be kept in its file")
	c.says(`page (http://127\.0\.0\.1:\d+)/ `)
	require.NotEqual(t, -1, c.signal(syscall.SIGTERM), "it ends by itself")
}
