package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"os/exec"
	"regexp"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// patience is how long a test waits for another process before it gives up: far longer than any takes,
// even on a board that has much else to do.
const patience = 90 * time.Second

// eventually waits until something is so.
func eventually(t *testing.T, what string, so func() bool) {
	t.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for late := time.After(patience); !so(); {
		select {
		case <-tick.C:
		case <-late:
			require.Fail(t, "waited in vain", "until %s", what)
		}
	}
}

// child is a program that runs beside the test, in a process of its own.
type child struct {
	t         *testing.T
	cmd       *exec.Cmd
	out, errs notes
	ended     chan struct{}
}

// start starts a program. It is gone when the test ends.
func start(t *testing.T, program string, args ...string) *child {
	t.Helper()
	c := &child{t: t, cmd: exec.Command(program, args...), ended: make(chan struct{})}
	c.cmd.Stdout, c.cmd.Stderr = &c.out, &c.errs
	require.NoError(t, c.cmd.Start())
	go func() {
		_ = c.cmd.Wait() // how it ended is told by ProcessState
		close(c.ended)
	}()
	t.Cleanup(func() {
		_ = c.cmd.Process.Kill() // it may have ended already
		<-c.ended
		if t.Failed() {
			t.Logf("%s %v told:\n%s%s", program, args, &c.out, &c.errs)
		}
	})
	return c
}

// says waits until what the program writes matches, and returns the match and its groups.
func (c *child) says(pattern string) []string {
	c.t.Helper()
	re := regexp.MustCompile(pattern)
	var found []string
	eventually(c.t, c.cmd.Path+" says "+pattern, func() bool {
		if found = re.FindStringSubmatch(c.out.String() + c.errs.String()); found != nil {
			return true
		}
		select {
		case <-c.ended:
			require.Fail(c.t, "it ended", "%v", c.cmd.ProcessState)
		default:
		}
		return false
	})
	return found
}

// signal sends a signal, waits for the end and returns the exit code, -1 for one that was killed.
func (c *child) signal(s syscall.Signal) int {
	c.t.Helper()
	require.NoError(c.t, c.cmd.Process.Signal(s))
	select {
	case <-c.ended:
	case <-time.After(patience):
		require.Fail(c.t, "it does not end", "%s after %v", c.cmd.Path, s)
	}
	return c.cmd.ProcessState.ExitCode()
}

// daemon is a child that serves a page.
type daemon struct {
	*child
	url string
}

// serving starts a command of the program that serves a page, and waits until it can be reached.
func serving(t *testing.T, args ...string) *daemon {
	t.Helper()
	c := start(t, "pourward", args...)
	return &daemon{c, c.says(`page (http://127\.0\.0\.1:\d+)/ `)[1]}
}

// get asks for a page.
func (d *daemon) get(path string) []byte {
	d.t.Helper()
	res, err := http.Get(d.url + path)
	require.NoError(d.t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(d.t, err)
	require.Equal(d.t, http.StatusOK, res.StatusCode, "%s: %s", path, body)
	return body
}

// try asks for a page of JSON of a daemon that may just be starting anew.
func (d *daemon) try(path string, to any) (bool, error) {
	res, err := http.Get(d.url + path)
	if err != nil {
		return false, err
	}
	defer res.Body.Close()
	return res.StatusCode == http.StatusOK, json.NewDecoder(res.Body).Decode(to)
}

// mark enters a mark with the command, and returns what it told and its exit code.
func (d *daemon) mark(args ...string) (out, errs string, code int) {
	d.t.Helper()
	var o, e bytes.Buffer
	cmd := exec.CommandContext(d.t.Context(), "pourward", append([]string{"mark", "-to", d.url}, args...)...)
	cmd.Stdout, cmd.Stderr = &o, &e
	_ = cmd.Run() // the exit code says it
	return o.String(), e.String(), cmd.ProcessState.ExitCode()
}

// marked enters a mark that must be taken.
func (d *daemon) marked(args ...string) {
	d.t.Helper()
	_, errs, code := d.mark(args...)
	require.Zero(d.t, code, "%v: %s", args, errs)
}

// told is the part of /snapshot.json that the tests look at.
type told struct {
	At     time.Time
	Probes []struct {
		Name  string
		Last  time.Time
		TempC *float64 `json:"temp_c"`
	}
	Molds []struct {
		Name  string
		Marks []struct {
			ID   int64
			Kind string
		}
	}
	Health struct {
		Readings uint64 `json:"record_readings"`
		Marks    uint64 `json:"record_marks"`
	}
}

// snapshot asks for the newest snapshot.
func (d *daemon) snapshot() (s told) {
	d.t.Helper()
	require.NoError(d.t, json.Unmarshal(d.get("/snapshot.json"), &s))
	return s
}

// reads reports whether the newest temperature of the first probe is this one.
func (d *daemon) reads(tempC float64) func() bool {
	return func() bool {
		p := d.snapshot().Probes[0]
		return p.TempC != nil && *p.TempC == tempC
	}
}
