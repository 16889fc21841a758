package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"golang.org/x/sync/errgroup"

	"pourward/alerts"
	"pourward/model"
	"pourward/model/loop"
	"pourward/sensors"
	"pourward/sensors/recorded"
)

const replayAbout = `Folds a CSV file of recorded readings, and a file of marks, through the same loop as the daemon, as fast
as it goes, and tells what came of it. The file may be compressed with gzip.`

// replayFlags are what a replay is told.
type replayFlags struct {
	recording
	marksFile string
	until     string
	quiet     bool
}

func replay(ctx context.Context, args []string, out, errs io.Writer) error {
	var f replayFlags
	fs := flags("replay", " FILE.csv", replayAbout, errs)
	f.recording.register(fs)
	fs.StringVar(&f.marksFile, "marks", "", "CSV `file` of marks: at,mark,mold,place,material,...")
	fs.StringVar(&f.until, "until", "", "stop at this `time`; the end of the file if left out")
	fs.BoolVar(&f.quiet, "quiet", false, "tell only the outlook at the end")
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	if err := f.settle(fs.Arg(0)); err != nil {
		return err
	}
	return f.run(ctx, out, errs)
}

// replayPlace is the only place of a replay.
const replayPlace = "bench"

func (f *replayFlags) run(ctx context.Context, out, errs io.Writer) error {
	source, err := recorded.New(f.opts)
	if err != nil {
		return err
	}
	d := &replayDriver{}
	if f.marksFile != "" {
		if d.marks, err = readMarks(f.marksFile, f.zone); err != nil {
			return err
		}
	}
	if f.until != "" {
		if d.until, err = time.ParseInLocation("2006-01-02 15:04", f.until, f.zone); err != nil {
			return fmt.Errorf("-until: %w; write for example \"2010-01-16 12:00\"", err)
		}
	}
	begin, err := firstOf(ctx, []recorded.Options{f.opts}) // a source of its own: this one counts bad rows
	if err != nil {
		return err
	}
	snapshot, err := d.play(ctx, f, source, begin, out)
	if n := source.Skipped(); n > 0 {
		fmt.Fprintf(errs, "left out, since they could not be read: %s\n", several(n, "row"))
	}
	if err != nil {
		return err
	}
	if !f.quiet {
		fmt.Fprintln(out)
	}
	teller{out: out, zone: f.zone, fahrenheit: f.opts.TempUnit == recorded.Fahrenheit}.outlook(snapshot.Outlook)
	return nil
}

// replayDriver makes the marks when the recording reaches their time.
type replayDriver struct {
	marks []model.Mark // still to be made, in order of time
	until time.Time
	loop  *loop.Loop
	clock *following
}

// errUntil ends a replay where it was asked to.
var errUntil = errors.New("replay: asked to stop here")

// play folds the whole recording and returns what is known at its end.
func (d *replayDriver) play(ctx context.Context, f *replayFlags, source sensors.Source, begin time.Time, out io.Writer) (*model.Snapshot, error) {
	d.clock = newFollowing(begin)
	eval, err := alerts.NewEvaluator(alerts.Table(), f.zone)
	if err != nil {
		return nil, err
	}
	n := newNarrator(out, f.zone)
	opts := loop.Options{
		Setup: model.Setup{
			Places: []string{replayPlace}, Zone: f.zone,
			Probes: []model.Probe{{Name: "recorded", Place: replayPlace, Every: f.every}},
		},
		Record: &loop.Memory{}, Clock: d.clock, Tell: f.every, Replay: true,
	}
	if !f.quiet {
		opts.Publish = func(s *model.Snapshot) { n.watch(s, eval.Step(s)) }
	}
	if d.loop, err = loop.New(ctx, opts); err != nil {
		return nil, err
	}
	err = d.drive(ctx, source)
	return d.loop.Snapshot(), err
}

// drive runs source and loop until the recording ends, then makes the marks that are left.
func (d *replayDriver) drive(ctx context.Context, source sensors.Source) error {
	g, ctx := errgroup.WithContext(ctx)
	readings := make(chan sensors.Reading)
	g.Go(func() error { return d.loop.Run(ctx, readings) })
	g.Go(func() error {
		defer close(readings)
		m := &merged{sources: []sensors.Source{source}, clock: d.clock, before: d.markUpTo}
		if err := m.Run(ctx, readings); err != nil && !errors.Is(err, errUntil) {
			return err
		}
		end := d.clock.Now()
		if !d.until.IsZero() && d.until.After(end) {
			end = d.until
		}
		return d.makeMarks(ctx, end)
	})
	return g.Wait()
}

// markUpTo makes the marks that lie before the next reading.
func (d *replayDriver) markUpTo(ctx context.Context, next time.Time) error {
	if !d.until.IsZero() && next.After(d.until) {
		return errUntil
	}
	return d.makeMarks(ctx, next)
}

func (d *replayDriver) makeMarks(ctx context.Context, upTo time.Time) error {
	for len(d.marks) > 0 && !d.marks[0].At.After(upTo) {
		m := d.marks[0]
		d.clock.follow(m.At)
		m.Entered = m.At
		if m.Kind == model.Begun && m.Place == "" {
			m.Place = replayPlace
		}
		if _, err := d.loop.Mark(ctx, m); err != nil {
			return fmt.Errorf("mark of %s: %w", m.At.Format(time.RFC3339), err)
		}
		d.marks = d.marks[1:]
	}
	d.clock.follow(upTo)
	return nil
}
