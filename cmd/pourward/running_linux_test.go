package main

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"pourward/model/journal"
)

// inOwnMounts runs a test in which this user may mount: as root here, else once more in name spaces of its own, by
// util-linux. It reports whether the test is to go on here.
func inOwnMounts(t *testing.T) bool {
	t.Helper()
	if os.Geteuid() == 0 {
		return true
	}
	out, err := exec.CommandContext(t.Context(), "unshare", "-rm", os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v").CombinedOutput()
	require.NoError(t, err, "neither as root nor in a name space of its own can this test mount a disk: let users make name spaces, or run it as root\n%s", out)
	t.Logf("%s", out)
	return false
}

// onDisk is a shop with a thermometer whose journal lies on a disk of its own.
func onDisk(t *testing.T, mount func(t *testing.T, disk string)) (file, root, disk string) {
	t.Helper()
	file, root = liveConfig(t)
	disk = filepath.Join(filepath.Dir(file), "disk")
	require.NoError(t, os.Mkdir(disk, 0o755))
	mount(t, disk)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, bytes.Replace(text, []byte("annex.journal"), []byte("disk/annex.journal"), 1), 0o644))
	return file, root, disk
}

// tmpfs mounts a disk in memory.
func tmpfs(mib int) func(t *testing.T, disk string) {
	return func(t *testing.T, disk string) {
		require.NoError(t, unix.Mount("none", disk, "tmpfs", 0, fmt.Sprintf("size=%dm", mib)))
		t.Cleanup(func() { require.NoError(t, unix.Unmount(disk, unix.MNT_DETACH)) })
	}
}

// ext4 makes a file system in a file and returns how to mount it, which takes root.
func ext4(t *testing.T, mib int64) (image string, mount func(t *testing.T, disk string)) {
	t.Helper()
	image = filepath.Join(t.TempDir(), "disk.img")
	f, err := os.Create(image)
	require.NoError(t, err)
	require.NoError(t, errors.Join(f.Truncate(mib<<20), f.Close()))
	ran(t, program(t, "mke2fs", "e2fsprogs"), "-q", "-t", "ext4", "-E", "lazy_itable_init=0,lazy_journal_init=0", image)
	return image, func(t *testing.T, disk string) {
		ran(t, "mount", "-o", "loop,errors=remount-ro", image, disk)
		t.Cleanup(func() { _ = unix.Unmount(disk, unix.MNT_DETACH) }) // the test may have done it
	}
}

// ran runs a program that must end well, and returns what it told.
func ran(t *testing.T, program string, args ...string) string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), program, args...).CombinedOutput()
	require.NoError(t, err, "%s %v: %s", program, args, out)
	return string(out)
}

// mayLoop reports whether this process may mount a file: root of the machine may, root of a name space may not.
func mayLoop(t *testing.T) bool {
	f, err := os.OpenFile("/dev/loop-control", os.O_RDWR, 0)
	if err != nil {
		t.Logf("no file can be mounted here (%v): disks in memory alone are tried", err)
		return false
	}
	require.NoError(t, f.Close())
	return true
}

// small is a shop on a small disk.
type small struct {
	*daemon
	root, disk string
	free       func()
	read       uint64
}

// Small disks fill up while the daemon runs: page and metrics say so, marks are refused and measuring goes on;
// when there is room again everything is made safe, and nothing that was confirmed is lost. All of them go
// through it side by side, since each waits more than it works.
func TestSmallDisksFillUp(t *testing.T) {
	if !inOwnMounts(t) {
		return
	}
	t.Parallel()
	disks := []func(*testing.T, string){tmpfs(2), tmpfs(4), tmpfs(8)}
	if mayLoop(t) {
		_, mount := ext4(t, 16)
		disks = append(disks, mount)
	}
	var shops []*small
	for _, mount := range disks {
		file, root, disk := onDisk(t, mount)
		s := &small{daemon: serving(t, "serve", "-config", file), root: root, disk: disk}
		s.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
		s.free = fillUp(t, s.daemon, disk, true)
		shops = append(shops, s)
	}
	failing := func(want float64) {
		for _, s := range shops {
			eventually(t, fmt.Sprint("failing is ", want), func() bool { return s.metric("pourward_journal_failing") == want })
		}
	}
	failing(1)
	for _, s := range shops {
		require.Contains(t, s.banners(), "the disk is full; free some space")
		_, errs, code := s.mark("-mold", "corbel", "-material", "lacquer", "coat-on")
		require.Equal(t, 1, code)
		require.Contains(t, errs, "not safe, so it was not taken")
		s.measures(s.root)
		require.Positive(t, s.metric("pourward_journal_waiting_readings"))
		s.free()
	}
	failing(0)
	for _, s := range shops {
		require.Empty(t, s.banners())
		s.marked("-mold", "corbel", "-material", "shellac", "coat-on")
		s.read = s.snapshot().Health.Readings
		require.Zero(t, s.signal(syscall.SIGTERM))
		marks, readings := onRecord(t, filepath.Join(s.disk, "annex.journal"))
		require.Equal(t, []int64{1, 2}, marks)
		require.GreaterOrEqual(t, uint64(len(readings)), s.read, "no reading is lost")
	}
}

// The disk fails while the daemon runs, and the kernel lets nobody write to it any more (ext4(5), errors=remount-ro).
// Marks are refused in words, measuring goes on; when it is mounted again everything that was confirmed is there.
func TestDiskTurnsReadOnly(t *testing.T) {
	if !inOwnMounts(t) || !mayLoop(t) {
		return
	}
	t.Parallel()
	image, mount := ext4(t, 16)
	file, root, disk := onDisk(t, mount)
	device := ran(t, "findmnt", "-no", "SOURCE", disk)
	d := serving(t, "serve", "-config", file)
	d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	fault := filepath.Join("/sys/fs/ext4", filepath.Base(strings.TrimSpace(device)), "trigger_fs_error")
	require.NoError(t, os.WriteFile(fault, []byte("1"), 0))
	eventually(t, "the journal fails", func() bool { return d.metric("pourward_journal_failing") == 1 })
	require.Regexp(t, "the disk fails; look at its card|the file cannot be written; check who owns it", d.banners())
	_, errs, code := d.mark("-mold", "corbel", "-material", "lacquer", "coat-on")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "not safe, so it was not taken")
	d.measures(root)
	d.signal(syscall.SIGTERM)

	require.NoError(t, unix.Unmount(disk, 0))
	_ = exec.CommandContext(t.Context(), program(t, "e2fsck", "e2fsprogs"), "-fy", image).Run() // its exit code says that there was something to do
	mount(t, disk)
	again := serving(t, "serve", "-config", file)
	require.Len(t, again.snapshot().Molds, 1)
	again.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
	require.Zero(t, again.signal(syscall.SIGTERM))
	marks, _ := onRecord(t, filepath.Join(disk, "annex.journal"))
	require.Equal(t, []int64{1, 2}, marks)
}

// plainly starts a daemon for whom file modes count, also when the test is run by root.
func plainly(t *testing.T, args ...string) *daemon {
	t.Helper()
	if os.Geteuid() != 0 {
		return serving(t, args...)
	}
	c := start(t, "setpriv", append([]string{"--bounding-set=-dac_override,-dac_read_search", "pourward"}, args...)...)
	return &daemon{c, c.says(`page (http://127\.0\.0\.1:\d+)/ `)[1]}
}

// The folder of the journal is closed while the daemon runs: what is open stays so, and is kept. One that is
// started when nobody can look into the folder is in memory until it is opened.
func TestFolderIsClosedMeanwhile(t *testing.T) {
	t.Parallel()
	file, root, disk := onDisk(t, func(*testing.T, string) {})
	d := plainly(t, "serve", "-config", file)
	d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	t.Cleanup(func() { require.NoError(t, os.Chmod(disk, 0o755)) })
	for _, mode := range []os.FileMode{0o555, 0} {
		require.NoError(t, os.Chmod(disk, mode))
		d.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
	}
	d.measures(root)
	require.Zero(t, d.metric("pourward_journal_failing"))
	require.Equal(t, -1, d.signal(syscall.SIGKILL))

	d = plainly(t, "serve", "-config", file)
	require.Equal(t, 1.0, d.metric("pourward_journal_in_memory"))
	_, errs, code := d.mark("-mold", "corbel", "-material", "lacquer", "coat-on")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "pourward mark: ")
	require.NoError(t, os.Chmod(disk, 0o755))
	eventually(t, "it goes back to its file by itself", func() bool { return d.state("sound") })
	d.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
	require.Zero(t, d.signal(syscall.SIGTERM))
	marks, _ := onRecord(t, filepath.Join(disk, "annex.journal"))
	require.Equal(t, []int64{1, 2, 3, 4}, marks)
}

// The journal's file is deleted, moved or replaced while the daemon runs, and the power goes: what was confirmed
// is found under its name, or in the rescue journal beside what was put there, of which everyone is told.
func TestJournalIsTakenAwayMeanwhile(t *testing.T) {
	for name, c := range map[string]struct {
		take  func(t *testing.T, kept string)
		state string
		in    func(kept string) string
	}{
		"deleted": {func(t *testing.T, kept string) {
			for _, end := range []string{"", "-wal", "-shm", "-lock"} {
				require.NoError(t, os.Remove(kept+end))
			}
		}, "sound", func(kept string) string { return kept }},
		"moved": {func(t *testing.T, kept string) { require.NoError(t, os.Rename(kept, kept+".old")) }, "sound",
			func(kept string) string { return kept }},
		"replaced": {func(t *testing.T, kept string) {
			require.NoError(t, os.WriteFile(kept+".new", []byte("Poured the frieze at noon.\n"), 0o600))
			require.NoError(t, os.Rename(kept+".new", kept))
		}, "replaced", func(kept string) string { return journal.RescueOf(kept, 1) }},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			file, root := liveConfig(t)
			kept := filepath.Join(filepath.Dir(file), "annex.journal")
			d := serving(t, "serve", "-config", file)
			d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
			c.take(t, kept)
			d.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
			eventually(t, "the state is told", func() bool { return d.state(c.state) })
			require.Equal(t, c.state != "sound", bytes.Contains(d.get("/"), []byte("The record is not whole in its own file.")))
			require.Equal(t, c.state != "sound", d.banners() != "", "%s", d.banners())
			d.measures(root)
			require.Equal(t, -1, d.signal(syscall.SIGKILL))
			marks, readings := onRecord(t, c.in(kept))
			require.Equal(t, []int64{1, 2}, marks)
			require.NotEmpty(t, readings)
		})
	}
}

// A bad card changes pages of the file while the daemon runs, and it reads them again: it goes on in a rescue
// journal, says so, keeps what it confirmed since, and mending brings all together.
func TestDaemonMeetsDamageMeanwhile(t *testing.T) {
	t.Parallel()
	file, root, kept := begunBefore(t)
	d := serving(t, "serve", "-config", file)
	db, err := sql.Open("sqlite", kept)
	require.NoError(t, err)
	var page int
	require.NoError(t, db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'tail'").Scan(&page))
	_, err = db.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	require.NoError(t, err)
	overwrite(t, kept, page)
	_, err = db.Exec("PRAGMA user_version = 8") // as it is: whoever else has the file open reads it again
	require.NoError(t, errors.Join(err, db.Close()))
	eventually(t, "it goes on in a rescue", func() bool { return d.state("damaged") })
	require.Contains(t, d.banners(), "Readings and marks are kept in annex.journal.rescue-1, and are safe there.")
	require.Contains(t, string(d.get("/")), "The record is not whole in its own file.")
	require.Zero(t, d.metric("pourward_journal_failing"))
	d.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
	d.measures(root)
	require.Len(t, d.snapshot().Molds[0].Marks, 2)
	require.Equal(t, -1, d.signal(syscall.SIGKILL))
	mended(t, file, kept, "annex.journal.mended holds ", false)
}
