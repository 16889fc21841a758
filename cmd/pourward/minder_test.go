package main

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/loop"
	"pourward/model/material"
	"pourward/sensors"
)

// said is what a service manager was told, each with the time since the test began.
type said struct {
	mu    sync.Mutex
	begun time.Time
	all   []string
	last  time.Duration
}

func (s *said) tell(state string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	first, _, _ := strings.Cut(state, "\n")
	s.all, s.last = append(s.all, first), time.Since(s.begun)
	return nil
}

func (s *said) count(state string) (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.all {
		if x == state {
			n++
		}
	}
	return n
}

// A loop that hangs, here because somebody it tells does not come back, gives no more signs of life, while the
// rest of the daemon still runs; once it comes round again, so do they.
func TestALoopThatHangsFallsSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free := make(chan struct{}, 1) // as a lock: whoever fills it holds it
		l, err := loop.New(t.Context(), loop.Options{
			Setup:  model.Setup{Places: []string{"bench"}, Probes: []model.Probe{{Name: "air", Place: "bench", Every: 10 * time.Second}}, Shelf: material.Generic(), Zone: time.UTC},
			Record: &loop.Memory{}, Clock: sensors.RealClock{},
			Publish: func(*model.Snapshot) { free <- struct{}{}; <-free },
		})
		require.NoError(t, err)
		ctx, stop := context.WithCancel(t.Context())
		var running sync.WaitGroup
		running.Go(func() { _ = l.Run(ctx, make(chan sensors.Reading)) })
		told := &said{begun: time.Now()}
		m := &minder{every: 20 * time.Second, tell: told.tell}
		running.Go(func() { m.run(ctx, l) })

		time.Sleep(61 * time.Second)
		synctest.Wait()
		require.Equal(t, []string{"READY=1", "WATCHDOG=1", "WATCHDOG=1", "WATCHDOG=1"}, told.all)

		free <- struct{}{}
		time.Sleep(time.Hour)
		synctest.Wait()
		require.Less(t, told.last, 82*time.Second, "none while the loop hangs")
		<-free
		before := told.count("WATCHDOG=1")
		time.Sleep(time.Minute)
		synctest.Wait()
		require.GreaterOrEqual(t, told.count("WATCHDOG=1"), before+3)

		stop()
		running.Wait()
		require.Equal(t, "STOPPING=1", told.all[len(told.all)-1])
	})
}

// The daemon as a service manager sees it, by the protocol of sd_notify(3): datagrams of lines KEY=VALUE to the
// socket in NOTIFY_SOCKET; WATCHDOG_USEC says within which time the next sign of life must come.
func TestServiceManagerIsTold(t *testing.T) {
	file, _ := liveConfig(t)
	socket := filepath.Join(t.TempDir(), "notify")
	hear, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	require.NoError(t, err)
	defer hear.Close()
	next := func() string {
		buf := make([]byte, 4096)
		require.NoError(t, hear.SetReadDeadline(time.Now().Add(patience)))
		n, err := hear.Read(buf)
		require.NoError(t, err)
		return string(buf[:n])
	}
	t.Setenv("NOTIFY_SOCKET", socket)
	t.Setenv("WATCHDOG_USEC", "600000")
	d := serving(t, "serve", "-config", file)
	require.Equal(t, "STATUS=Reading the record.", next())
	require.Regexp(t, `^READY=1\nSTATUS=\d of 1 probe heard, 0 molds open\.$`, next())
	for range 3 {
		require.Regexp(t, `^WATCHDOG=1\nSTATUS=`, next())
	}
	require.NoError(t, d.cmd.Process.Signal(syscall.SIGTERM))
	for said := ""; !strings.HasPrefix(said, "STOPPING=1\n"); {
		said = next()
	}
	<-d.ended
	require.Zero(t, d.cmd.ProcessState.ExitCode())

	require.NoError(t, os.Remove(socket))
	c := start(t, "pourward", "serve", "-config", file)
	c.says(`pourward serve: tell the service manager: .*; it names a socket in NOTIFY_SOCKET that nobody hears at\n`)
	<-c.ended
	require.Equal(t, 1, c.cmd.ProcessState.ExitCode())
}
