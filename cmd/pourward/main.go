// Command pourward keeps watch over a mold maker's shop: it reads the probes at the bench, tells what
// is dry, how much working life is left and when the mold may come off, and warns in time.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // a small board may have no time zone files
)

func main() {
	stampMetrics()
	ctx, stop := signal.NotifyContext(context.Background(), endings()...)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// endings are the signals that end the program in order. A terminal that is closed is one: the readings of the
// last minute are made safe before it ends. Under nohup it is none, as whoever wrote that wants.
func endings() []os.Signal {
	all := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) {
		all = append(all, syscall.SIGHUP)
	}
	return all
}

// command is one thing the program can be asked to do.
type command struct {
	name, about string
	run         func(ctx context.Context, args []string, out, errs io.Writer) error
}

func commands() []command {
	return []command{
		{"demo", "watch an invented winter night in a museum workshop's annex", demo},
		{"serve", "run the daemon: probes, journal, page and metrics", serve},
		{"check-config", "judge a config file without starting anything", checkConfig},
		{"doctor", "look at all that the daemon needs, and tell what is wrong", doctor},
		{"try-message", "send a trial to those who are told of alerts", tryMessage},
		{"mark", "enter what was done at the bench", mark},
		{"batch", "tell what to weigh for a mold, and whether the scale holds the ratio", batch},
		{"plan", "reckon back from a deadline: the latest start, and what heat would buy", planBack},
		{"link", "let someone look at one mold for some time", link},
		{"report", "write the record of one mold, to print or as a table", reportMold},
		{"export", "write the whole record out as text", export},
		{"import", "read a record that was written out into a new journal", restore},
		{"mend", "make a new journal of what is whole in a damaged one", mend},
		{"materials", "list what marks may name, or judge a maker's own file", materials},
		{"probes", "list the probes that this board and a broker offer, with lines for the config", probes},
		{"replay", "fold a file of recorded readings and tell what came of it", replay},
		{"score", "judge the forecaster on a recorded climate", score},
		{"version", "tell which version this is", version},
	}
}

// errUsage means that the flag package has told the person already what was wrong.
var errUsage = errors.New("usage")

// run does what the arguments ask and returns the exit code: 0 done, 1 failed, 2 asked wrongly, 78 a daemon whose
// file is wrong.
func run(ctx context.Context, args []string, out, errs io.Writer) int {
	if len(args) == 0 {
		usage(errs)
		return 2
	}
	for _, c := range commands() {
		if c.name != args[0] {
			continue
		}
		switch err := c.run(ctx, args[1:], out, errs); {
		case err == nil, errors.Is(err, flag.ErrHelp):
			return 0
		case errors.Is(err, errUsage):
			return 2
		default:
			fmt.Fprintf(errs, "pourward %s: %v\n", c.name, err)
			if errors.As(err, new(toldWrong)) {
				return exitToldWrong
			}
			return 1
		}
	}
	if args[0] == "help" || args[0] == "-h" || args[0] == "--help" {
		usage(out)
		return 0
	}
	fmt.Fprintf(errs, "pourward: there is no command %q\n\n", args[0])
	usage(errs)
	return 2
}

func usage(w io.Writer) {
	fmt.Fprintln(w, "Pourward watches over molds in work. Usage: pourward COMMAND [flags]")
	fmt.Fprintln(w)
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-14s%s\n", c.name, c.about)
	}
	fmt.Fprintln(w, "\npourward COMMAND -h lists the flags of a command.")
}

// manual is a writer that takes the description of a command as it is, to make a manual of it.
type manual interface {
	describe(arguments, about string, fs *flag.FlagSet)
}

// flags makes a flag set that explains itself on errs.
func flags(name, arguments, about string, errs io.Writer) *flag.FlagSet {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.SetOutput(errs)
	fs.Usage = func() {
		if m, ok := errs.(manual); ok {
			m.describe(arguments, about, fs)
			return
		}
		fmt.Fprintf(errs, "Usage: pourward %s [flags]%s\n\n%s\n\n", name, arguments, about)
		fs.PrintDefaults()
	}
	return fs
}

// parse parses the flags and wants exactly n arguments after them.
func parse(fs *flag.FlagSet, args []string, n int) error {
	if err := parseFlags(fs, args); err != nil {
		return err
	}
	if fs.NArg() != n {
		fs.Usage()
		return errUsage
	}
	return nil
}

// parseFlags parses the flags alone. What was wrong with them has been told when it fails.
func parseFlags(fs *flag.FlagSet, args []string) error {
	err := fs.Parse(args)
	if err != nil && !errors.Is(err, flag.ErrHelp) {
		return errUsage
	}
	return err
}
