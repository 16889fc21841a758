package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"pourward/model"
	"pourward/model/journal"
	"pourward/sensors"
)

const mendAbout = `Makes a new journal of all that is whole in a damaged one and in the rescue journals beside it, which the daemon
keeps while it cannot use the journal, and says what is lost. The old files are only read. Stop the daemon first.`

func mend(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("mend", " JOURNAL", mendAbout, errs)
	to := fs.String("o", "", "`file` of the new journal; that of the old one with .mended at its end if left out")
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	from := fs.Arg(0)
	if *to == "" {
		*to = from + ".mended"
	}
	lost, err := journal.Mend(ctx, from, *to, journal.Options{})
	if err != nil {
		return err
	}
	readings, marks, err := holds(ctx, *to)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "%s holds %s and %s\n", *to, several(readings, "reading"), several(marks, "mark"))
	tellLost(out, lost)
	away := shellWord(from + "-set-aside")
	fmt.Fprintf(out, "to use it, put the old files away and give it the journal's name:\n  mkdir %[1]s && mv %[2]s %[1]s/ && mv %[3]s %[4]s\n",
		away, strings.Join(oldFiles(from), " "), shellWord(*to), shellWord(from))
	return nil
}

// oldFiles are the files of a journal and its rescue journals, with what SQLite may have left beside them: to
// be typed into a shell. A log that stays would be taken for the new journal's.
func oldFiles(from string) (out []string) {
	for _, file := range append([]string{from}, journal.Rescues(from)...) {
		for _, end := range []string{"", "-wal", "-shm"} {
			if _, err := os.Stat(file + end); err == nil {
				out = append(out, shellWord(file+end))
			}
		}
	}
	return out
}

// holds counts what a journal holds.
func holds(ctx context.Context, path string) (readings, marks int, err error) {
	j, err := journal.Open(ctx, path, journal.Options{ReadOnly: true})
	if err != nil {
		return 0, 0, err
	}
	defer func() { _ = j.Close(ctx) }() // it was only read
	all, err := j.Marks(ctx)
	if err != nil {
		return 0, 0, err
	}
	err = j.Readings(ctx, time.Time{}, time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC), func(sensors.Reading) error {
		readings++
		return nil
	})
	return readings, len(all), err
}

// tellLost says what is missing, a line for each.
func tellLost(out io.Writer, lost model.Lost) {
	if !lost.Any() {
		fmt.Fprintln(out, "nothing is known to be lost")
		return
	}
	for _, s := range lost.Spans {
		fmt.Fprintf(out, "lost: readings of %s from %s to %s\n", s.Probe, s.From.Format(time.RFC3339), s.To.Format(time.RFC3339))
	}
	if lost.Marks > 0 {
		fmt.Fprintf(out, "lost: %s\n", several(lost.Marks, "mark"))
	}
	for _, m := range lost.Changed {
		fmt.Fprintf(out, "lost: %s; enter it again if you know what it said\n", m)
	}
	if lost.More {
		fmt.Fprintln(out, "perhaps lost: more, of which nobody knows, at the end of what could be read")
	}
}

// shellWord quotes a word for a shell where it needs that.
func shellWord(s string) string {
	if strings.Trim(s, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._-") == "" {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}
