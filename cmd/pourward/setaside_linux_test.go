package main

import (
	"bytes"
	"database/sql"
	"errors"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"pourward/model/journal"
)

// banners are what the page says of trouble.
func (d *daemon) banners() string {
	d.t.Helper()
	var out []string
	for _, m := range regexp.MustCompile(`<p class="banner grave" role="alert">([^<]*)</p>`).FindAllStringSubmatch(string(d.get("/")), -1) {
		out = append(out, html.UnescapeString(m[1]))
	}
	return strings.Join(out, "\n")
}

// metric is one value of /metrics.
func (d *daemon) metric(series string) float64 {
	d.t.Helper()
	return value(d.t, string(d.get("/metrics")), series)
}

// state tells whether the metrics say that the journal is in a state, and in it alone.
func (d *daemon) state(name string) bool {
	d.t.Helper()
	held := regexp.MustCompile(`pourward_journal_state\{pourward_journal_state="([^"]*)"\} 1`).FindAllStringSubmatch(string(d.get("/metrics")), -1)
	return len(held) == 1 && held[0][1] == name
}

// measures waits until the daemon has read what the chip now says.
func (d *daemon) measures(root string) {
	d.t.Helper()
	plug(d.t, root, at25063)
	eventually(d.t, "measuring goes on", d.reads(25.063))
}

// begunBefore is a shop in whose journal a mold was begun and measured, by a daemon that has ended.
func begunBefore(t *testing.T) (file, root, kept string) {
	t.Helper()
	file, root = liveConfig(t)
	d := serving(t, "serve", "-config", file)
	d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	eventually(t, "some readings are taken", func() bool { return d.snapshot().Health.Readings >= 2 })
	require.Zero(t, d.signal(syscall.SIGTERM))
	return file, root, filepath.Join(filepath.Dir(file), "annex.journal")
}

// A journal that cannot be used is told and left as it is, and the shop is kept in a rescue journal: marks are
// safe, whatever could be read is known, and mending brings all together.
func TestDaemonSetsAJournalAside(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		spoil func(t *testing.T, journal string)
		state string
		says  string
		knows bool   // the mold begun before
		mend  string // what mending says
	}{
		"newer": {state: "newer", says: "written by a newer pourward; run that version", knows: true, mend: "run that version or a later one", spoil: func(t *testing.T, journal string) {
			db, err := sql.Open("sqlite", journal)
			require.NoError(t, err)
			_, err = db.Exec("PRAGMA user_version = 9999")
			require.NoError(t, errors.Join(err, db.Close()))
		}},
		"damaged": {state: "damaged", says: "the file is damaged; keep a copy of it", knows: true, mend: "annex.journal.mended holds ", spoil: func(t *testing.T, journal string) {
			db, err := sql.Open("sqlite", journal)
			require.NoError(t, err)
			var page int
			require.NoError(t, db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'tail'").Scan(&page))
			require.NoError(t, db.Close())
			overwrite(t, journal, page)
		}},
		"all pages damaged": {state: "damaged", says: "the file is damaged; keep a copy of it", mend: "annex.journal.mended holds ", spoil: func(t *testing.T, journal string) {
			info, err := os.Stat(journal)
			require.NoError(t, err)
			for page := 2; page <= int(info.Size()/4096); page++ {
				overwrite(t, journal, page)
			}
		}},
		"not a journal": {state: "foreign", says: "not a journal; name another file", mend: "annex.journal.mended holds ", spoil: func(t *testing.T, journal string) {
			require.NoError(t, os.WriteFile(journal, []byte("Poured the frieze at noon.\n"), 0o600))
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			file, root, kept := begunBefore(t)
			c.spoil(t, kept)
			before, err := os.ReadFile(kept)
			require.NoError(t, err)
			d := serving(t, "serve", "-config", file)
			require.Contains(t, d.banners(), c.says)
			require.Contains(t, d.banners(), "Readings and marks are kept in annex.journal.rescue-1, and are safe there.")
			require.True(t, d.state(c.state))
			require.Zero(t, d.metric("pourward_journal_failing"))
			require.Contains(t, string(d.get("/")), "The record is not whole in its own file.", "the alert")
			d.measures(root)
			require.Equal(t, c.knows, len(d.snapshot().Molds) == 1)
			if !c.knows {
				d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
			}
			d.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
			require.Equal(t, -1, d.signal(syscall.SIGKILL))

			again := serving(t, "serve", "-config", file)
			require.Len(t, again.snapshot().Molds[0].Marks, 2, "what was confirmed is there")
			require.Zero(t, again.signal(syscall.SIGTERM))
			marks, _ := onRecord(t, journal.RescueOf(kept, 1))
			require.Equal(t, []int64{1, 2}, marks)
			after, err := os.ReadFile(kept)
			require.NoError(t, err)
			require.Equal(t, before, after, "it is left as it is")
			mended(t, file, kept, c.mend, c.state == "newer")
		})
	}
}

// A bad card changed one letter of a mark. It is left out, and page, metrics, alert, check-up, export and mending
// say so and what it reads now; everything else goes on in the same file.
func TestDaemonTellsAMarkThatWasChanged(t *testing.T) {
	t.Parallel()
	file, root, kept := begunBefore(t)
	d := serving(t, "serve", "-config", file)
	d.marked("-mold", "corbel", "-material", "lacquer", "-note", "thin coat", "coat-on")
	d.marked("-mold", "corbel", "-material", "shellac", "coat-on")
	require.Zero(t, d.signal(syscall.SIGTERM))
	data, err := os.ReadFile(kept)
	require.NoError(t, err)
	require.Equal(t, 1, bytes.Count(data, []byte("thin coat")))
	require.NoError(t, os.WriteFile(kept, bytes.Replace(data, []byte("thin coat"), []byte("thin boat"), 1), 0o600))

	d = serving(t, "serve", "-config", file)
	require.Contains(t, d.banners(), `Part of the record is damaged, and left out. Lost are mark 2, which now reads "corbel: coat on (lacquer), `)
	require.Contains(t, d.banners(), "thin boat")
	require.True(t, d.state("marred"))
	require.Zero(t, d.metric("pourward_journal_failing"))
	require.Contains(t, string(d.get("/")), "The record is not whole in its own file.", "the alert")
	require.Len(t, d.snapshot().Molds[0].Marks, 2)
	d.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
	d.measures(root)
	require.Zero(t, d.signal(syscall.SIGTERM))

	tells := func(args ...string) string {
		out, err := exec.CommandContext(t.Context(), "pourward", args...).CombinedOutput()
		require.Error(t, err)
		return string(out)
	}
	require.Contains(t, tells("doctor", "-config", file), "mark 2, which now reads")
	exported := filepath.Join(t.TempDir(), "out.jsonl")
	require.Contains(t, tells("export", "-journal", kept, "-o", exported), "mark 2, which now reads")
	text, err := os.ReadFile(exported)
	require.NoError(t, err)
	require.Equal(t, 3, bytes.Count(text, []byte(`{"mark":`)))
	require.NotContains(t, string(text), "thin")

	out, err := exec.CommandContext(t.Context(), "pourward", "mend", kept).CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.Regexp(t, `annex.journal.mended holds \d+ readings and 3 marks`, string(out))
	require.Regexp(t, `(?m)^lost: mark 2, which now reads "corbel: coat on \(lacquer\), .*, thin boat"; enter it again if you know what it said$`, string(out))
	marks, _ := onRecord(t, kept+".mended")
	require.Equal(t, []int64{1, 3, 4}, marks)
}

// overwrite puts nonsense where a page begins, the first being page 1.
func overwrite(t *testing.T, file string, page int) {
	t.Helper()
	f, err := os.OpenFile(file, os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteAt([]byte("nonsense where a page begins"), int64(page-1)*4096)
	require.NoError(t, errors.Join(err, f.Close()))
}

// mended mends the journal, does what the command says, and wants a daemon that is well again.
func mended(t *testing.T, config, kept, says string, refused bool) {
	t.Helper()
	var out, errs bytes.Buffer
	cmd := exec.CommandContext(t.Context(), "pourward", "mend", kept)
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	require.Equal(t, refused, err != nil, "%s", &errs)
	require.Contains(t, out.String()+errs.String(), says)
	if refused {
		return
	}
	do := regexp.MustCompile(`(?m)^  (mkdir .*)$`).FindStringSubmatch(out.String())
	require.NotNil(t, do, "%s", &out)
	told, err := exec.CommandContext(t.Context(), "sh", "-c", do[1]).CombinedOutput()
	require.NoError(t, err, "%s", told)
	d := serving(t, "serve", "-config", config)
	require.Empty(t, d.banners())
	require.True(t, d.state("sound"))
	require.Len(t, d.snapshot().Molds[0].Marks, 2)
	require.Zero(t, d.signal(syscall.SIGTERM))
}

// The disk cannot be written when the daemon starts: it measures in memory, refuses marks and says why, and
// all goes to the file by itself once that can be written.
func TestDaemonStartsOnADiskThatCannotBeWritten(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		spoil func(t *testing.T, disk string) (mend func())
		state string
		says  string
	}{
		"read-only": {state: "read-only", says: "that the disk is not mounted read-only", spoil: func(t *testing.T, disk string) func() {
			require.NoError(t, unix.Mount("none", disk, "tmpfs", unix.MS_REMOUNT|unix.MS_RDONLY, "size=2m"))
			return func() { require.NoError(t, unix.Mount("none", disk, "tmpfs", unix.MS_REMOUNT, "size=2m")) }
		}},
		"full": {state: "no room", says: "the disk is full; free some space", spoil: func(t *testing.T, disk string) func() {
			filler := filepath.Join(disk, "filler")
			f, err := os.Create(filler)
			require.NoError(t, err)
			for err == nil {
				_, err = f.Write(make([]byte, 512))
			}
			require.NoError(t, f.Close())
			return func() { require.NoError(t, os.Remove(filler)) }
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			file, root, disk, mounted := onSmallDisk(t)
			if !mounted { // then the folder alone can be closed, and only to those who are not root
				c.state, c.says = "read-only", "that the disk is not mounted read-only"
				c.spoil = func(t *testing.T, disk string) func() {
					require.NoError(t, os.Chmod(disk, 0o555))
					return func() { require.NoError(t, os.Chmod(disk, 0o755)) }
				}
			}
			d := serving(t, "serve", "-config", file)
			d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
			require.Zero(t, d.signal(syscall.SIGTERM))
			restore := c.spoil(t, disk)

			d = serving(t, "serve", "-config", file)
			require.Contains(t, d.banners(), c.says)
			require.Contains(t, d.banners(), "Marks are not taken, for none would be safe")
			require.True(t, d.state(c.state), "%s", d.get("/metrics"))
			require.Equal(t, 1.0, d.metric("pourward_journal_failing"))
			require.Equal(t, 1.0, d.metric("pourward_journal_in_memory"))
			d.measures(root)
			require.Len(t, d.snapshot().Molds, 1, "what is on record is known")
			_, errs, code := d.mark("-mold", "corbel", "-material", "lacquer", "coat-on")
			require.Equal(t, 1, code)
			require.Contains(t, errs, "not safe, so it was not taken")

			restore()
			eventually(t, "it goes back to its file by itself", func() bool { return d.state("sound") })
			require.Empty(t, d.banners())
			d.marked("-mold", "corbel", "-material", "shellac", "coat-on")
			s := d.snapshot()
			require.Zero(t, d.signal(syscall.SIGTERM))
			marks, readings := onRecord(t, filepath.Join(disk, "annex.journal"))
			require.Equal(t, []int64{1, 2}, marks)
			require.GreaterOrEqual(t, uint64(len(readings)), s.Health.Readings, "what was read meanwhile, too")
		})
	}
}

// A second daemon on one journal writes nothing, takes no mark and says so; the first does not notice. When
// the first has gone, the second keeps the journal.
func TestSecondDaemonOnOneJournal(t *testing.T) {
	t.Parallel()
	file, root := liveConfig(t)
	first := serving(t, "serve", "-config", file)
	first.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	second := serving(t, "serve", "-config", file)
	require.Contains(t, second.banners(), "another pourward keeps this journal; stop it first")
	require.Contains(t, second.banners(), "go to the page of the pourward that keeps the record")
	require.True(t, second.state("in use"))
	require.Len(t, second.snapshot().Molds, 1)
	_, errs, code := second.mark("-mold", "corbel", "-material", "lacquer", "coat-on")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "another pourward keeps this journal")
	second.measures(root)
	require.NoFileExists(t, journal.RescueOf(filepath.Join(filepath.Dir(file), "annex.journal"), 1))

	first.marked("-mold", "corbel", "-material", "lacquer", "coat-on")
	require.True(t, first.state("sound"))
	require.Zero(t, first.metric("pourward_journal_failing"))
	require.Zero(t, first.signal(syscall.SIGTERM))
	second.says("the other daemon has gone")
	var s told
	eventually(t, "the second keeps the journal", func() bool {
		res, err := second.try("/snapshot.json", &s)
		return err == nil && res && len(s.Molds) == 1 && len(s.Molds[0].Marks) == 2
	})
	require.Empty(t, second.banners())
	second.marked("-mold", "corbel", "-material", "shellac", "coat-on")
	require.Zero(t, second.signal(syscall.SIGTERM))
	marks, _ := onRecord(t, filepath.Join(filepath.Dir(file), "annex.journal"))
	require.Equal(t, []int64{1, 2, 3}, marks)
}
