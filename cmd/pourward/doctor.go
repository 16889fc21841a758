package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/checkup"
	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
)

const doctorAbout = `Looks at all that the daemon needs: its file and secrets, the probes of this board, clock, disk, record, page, and
whom it is to reach. Each line is ok, look or broken, with what to do below. Nothing is changed, no chip is
asked, nobody is told anything; a daemon that runs is not disturbed. Ask as the user that the daemon runs as.
The exit code is 1 where something is broken.`

func doctor(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("doctor", "", doctorAbout, errs)
	file := fs.String("config", defaultConfig, "config `file`")
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	all := checkup.User(os.Geteuid(), "pourward")
	all = append(all, lookedAt(ctx, *file)...)
	bad, doubtful, err := checkup.Tell(out, all)
	switch {
	case err != nil:
		return err
	case bad > 0:
		return fmt.Errorf("broken: %d, to look at: %d", bad, doubtful)
	case doubtful > 0:
		fmt.Fprintf(out, "It can run; to look at: %d.\n", doubtful)
	default:
		fmt.Fprintln(out, "All is well.")
	}
	return nil
}

// lookedAt is everything that was found for a config file.
func lookedAt(ctx context.Context, file string) (out []checkup.Finding) {
	c, door, err := judged(file)
	if err != nil {
		for line := range strings.Lines(err.Error()) {
			out = append(out, checkup.Finding{Verdict: checkup.Broken, About: "config", Found: strings.TrimRight(line, "\n")})
		}
		out[len(out)-1].Do = "the rest can be looked at when the file is sound; pourward check-config -example prints one"
		return out
	}
	out = append(out, checkup.Finding{About: "config", Found: file + " is sound"})
	out = append(out, secrets(ctx, c)...)
	recordedOnly, _ := allRecorded(c.Probes) // it was judged
	if !recordedOnly {                       // else their own time is told
		out = append(out, checkup.Clock(sensors.LinuxBoard{}.Trusted()))
	}
	out = append(out, checkup.Probes(ctx, c.Probes)...)
	out = append(out, checkup.Disk(filepath.Dir(c.Journal.File))...)
	out = append(out, checkup.Record(ctx, c.Journal.File, c.Shop.Zone), checkup.Page(ctx, c.Listen))
	out = append(out, checkup.Visitors(c, door, time.Now())...)
	return append(out, checkup.Reach(ctx, c)...)
}

// secrets reads what the config keeps in files of their own, as the daemon would.
func secrets(ctx context.Context, c *config.Config) (out []checkup.Finding) {
	log := slog.New(slog.DiscardHandler)
	never := func(context.Context, string) (time.Time, error) { return time.Time{}, nil }
	_, err := callsFrom(c, false, log)
	_, err2 := newLive(c, log).all(ctx, sensors.RealClock{}, never)
	for _, err := range []error{err, err2} {
		if err == nil {
			continue
		}
		for line := range strings.Lines(err.Error()) {
			out = append(out, checkup.Finding{Verdict: checkup.Broken, About: "secret", Found: strings.TrimRight(line, "\n"),
				Do: "let only the daemon's user read it: sudo chown pourward FILE && sudo chmod 0400 FILE"})
		}
	}
	return out
}
