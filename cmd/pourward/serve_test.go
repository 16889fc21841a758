package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
	"pourward/model/journal"
	"pourward/sensors"
)

// A daemon with a thermometer: what it measures, is told and serves, and what is left when it is stopped.
func TestServe(t *testing.T) {
	t.Parallel() // it waits more than it works
	file, root := liveConfig(t)
	d := serving(t, "serve", "-config", file)
	eventually(t, "the thermometer is read", d.reads(25.875))
	plug(t, root, at25063)
	eventually(t, "it is read again", d.reads(25.063))

	out, _, code := d.mark("-mold", "corbel", "-title", "Corbel in the annex", "-at", "10 min ago", "-place", "bench", "-material", "platinum-slow", "begun")
	require.Zero(t, code)
	require.Contains(t, out, "corbel: begun (platinum-slow)")
	d.marked("-mold", "corbel", "-material", "lacquer", "-at", "5 min ago", "coat-on")
	out, errs, code := d.mark("-mold", "corbel", "-at", "2 min ago", "poured")
	require.Equal(t, 1, code, "poured before anything was mixed")
	require.Empty(t, out)
	require.Regexp(t, `^pourward mark: [^\n]+mix[^\n]+\.\n$`, errs, "one sentence, which says what to do")
	d.marked("-mold", "corbel", "-corrects", "2", "-material", "shellac", "-at", "4 min ago", "coat-on")

	s := d.snapshot()
	require.EqualValues(t, 3, s.Health.Marks, "what was refused was not stored")
	require.Contains(t, string(d.get("/")), "Corbel in the annex")
	numbers := string(d.get("/metrics"))
	require.Equal(t, 1.0, value(t, numbers, "pourward_open_molds"))
	require.Equal(t, 3.0, value(t, numbers, "pourward_journal_marks_total"))

	require.Zero(t, d.signal(syscall.SIGTERM))
	require.True(t, strings.HasPrefix(d.out.String(), "page http"), d.out.String())
	require.Equal(t, 1, strings.Count(d.out.String(), "\n"), d.out.String())
	marks, readings := onRecord(t, filepath.Join(filepath.Dir(file), "annex.journal"))
	require.Equal(t, []int64{1, 2, 3}, marks)
	require.GreaterOrEqual(t, uint64(len(readings)), s.Health.Readings, "every reading that was counted")
	require.Equal(t, 25.875, readings[0].Temp.Value)
	require.Equal(t, 25.063, readings[len(readings)-1].Temp.Value)
}

// onRecord returns the numbers of the marks and the readings of a journal that no daemon keeps.
func onRecord(t *testing.T, file string) (marks []int64, readings []sensors.Reading) {
	t.Helper()
	j, err := journal.Open(t.Context(), file, journal.Options{})
	require.NoError(t, err)
	kept, err := j.Marks(t.Context())
	require.NoError(t, err)
	for _, m := range kept {
		marks = append(marks, m.ID)
	}
	first, last, err := j.Span(t.Context())
	require.NoError(t, err)
	require.NoError(t, j.Readings(t.Context(), first, last.Add(1), func(r sensors.Reading) error {
		readings = append(readings, r)
		return nil
	}))
	require.NoError(t, j.Close(t.Context()))
	return marks, readings
}

// What somebody has to mend is told apart from a card that did not answer this time, which is tried again.
func TestStartingAgainHelps(t *testing.T) {
	for _, c := range []struct {
		err   error
		wrong bool
	}{
		{config.Problems{{File: "config.yml", What: "no such key"}}, true},
		{fmt.Errorf("web configuration: %w", &fs.PathError{Op: "open", Path: "web.yml", Err: syscall.ENOENT}), true},
		{&fs.PathError{Op: "open", Path: "web.yml", Err: syscall.EACCES}, true},
		{fmt.Errorf("read the configuration: %w", &fs.PathError{Op: "read", Path: "config.yml", Err: syscall.EIO}), false},
		{&fs.PathError{Op: "open", Path: "config.yml", Err: syscall.EMFILE}, false},
	} {
		require.Equal(t, c.wrong, errors.As(orToldWrong(c.err), new(toldWrong)), "%v", c.err)
		require.Equal(t, c.err.Error(), orToldWrong(c.err).Error())
	}
}
