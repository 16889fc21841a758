package main

import (
	"bytes"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// onSmallDisk is a shop with a thermometer whose journal lies on a disk of 2 MB of its own, where this
// user may mount one; else in a folder, and full is then told by a limit on the size of files.
func onSmallDisk(t *testing.T) (file, root, disk string, mounted bool) {
	t.Helper()
	file, root = liveConfig(t)
	disk = filepath.Join(filepath.Dir(file), "disk")
	require.NoError(t, os.Mkdir(disk, 0o755))
	err := unix.Mount("none", disk, "tmpfs", 0, "size=2m")
	if err == nil {
		t.Cleanup(func() { require.NoError(t, unix.Unmount(disk, unix.MNT_DETACH)) })
	} else {
		t.Logf("no disk can be mounted (%v): file sizes are limited instead", err)
	}
	mounted = err == nil
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, bytes.Replace(text, []byte("annex.journal"), []byte("disk/annex.journal"), 1), 0o644))
	return file, root, disk, mounted
}

// fillUp leaves no room for a daemon's journal, and returns how to make room again.
func fillUp(t *testing.T, d *daemon, disk string, mounted bool) (free func()) {
	t.Helper()
	if !mounted {
		log, err := os.Stat(filepath.Join(disk, "annex.journal-wal"))
		require.NoError(t, err)
		var old unix.Rlimit
		limit := func(size uint64) {
			require.NoError(t, unix.Prlimit(d.cmd.Process.Pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: size, Max: unix.RLIM_INFINITY}, &old))
		}
		limit(uint64(log.Size()))
		return func() { limit(unix.RLIM_INFINITY) }
	}
	filler := filepath.Join(disk, "filler")
	f, err := os.Create(filler)
	require.NoError(t, err)
	for err == nil {
		_, err = f.Write(make([]byte, 512))
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NoError(t, f.Close())
	return func() { require.NoError(t, os.Remove(filler)) }
}

// The disk fills while the daemon runs: page and metrics say so, no mark is confirmed that is not safe,
// measuring goes on, and when there is room again everything is made safe without anybody's help.
func TestDaemonOnAFullDisk(t *testing.T) {
	t.Parallel()
	file, root, disk, mounted := onSmallDisk(t)
	d := serving(t, "serve", "-config", file)
	d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	free := fillUp(t, d, disk, mounted)
	failing := func(want float64) func() bool {
		return func() bool { return value(t, string(d.get("/metrics")), "pourward_journal_failing") == want }
	}
	eventually(t, "the metrics say that the journal fails", failing(1))
	require.Contains(t, string(d.get("/")), "The record cannot be written")
	if mounted {
		require.Contains(t, string(d.get("/")), "the disk is full; free some space")
	}
	_, errs, code := d.mark("-mold", "corbel", "-material", "lacquer", "coat-on")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "not safe, so it was not taken")
	plug(t, root, at25063)
	eventually(t, "measuring goes on", d.reads(25.063))
	require.Greater(t, value(t, string(d.get("/metrics")), "pourward_journal_waiting_readings"), 0.0)

	free()
	eventually(t, "the journal recovers by itself", failing(0))
	require.NotContains(t, string(d.get("/")), "The record cannot be written")
	d.marked("-mold", "corbel", "-material", "shellac", "coat-on")
	s := d.snapshot()
	require.Zero(t, d.signal(syscall.SIGTERM))
	marks, readings := onRecord(t, filepath.Join(disk, "annex.journal"))
	require.Equal(t, []int64{1, 2}, marks)
	require.GreaterOrEqual(t, uint64(len(readings)), s.Health.Readings, "no reading is lost")
}
