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
	opts      recorded.Options
	unit      string
	humidity  string
	zoneName  string
	zone      *time.Location
	tempCol   string
	humidCol  string
	marksFile string
	until     string
	every     time.Duration
	quiet     bool
}

func replay(ctx context.Context, args []string, out, errs io.Writer) error {
	var f replayFlags
	fs := flags("replay", " FILE.csv", replayAbout, errs)
	fs.StringVar(&f.opts.TimeColumn, "time", "time", "`column` with the time")
	fs.StringVar(&f.opts.TimeLayout, "time-layout", "2006-01-02 15:04:05", "how times are written: an `example` of 2 January 2006 15:04:05, or unix")
	fs.StringVar(&f.zoneName, "zone", "UTC", "time `zone` of times written without one, and of those told")
	fs.StringVar(&f.tempCol, "temp", "temp", "`column` with the air temperature")
	fs.StringVar(&f.unit, "temp-unit", "C", "its `unit`: C or F; times and temperatures are told in the same")
	fs.StringVar(&f.humidCol, "humidity", "", "`column` with the relative humidity; none if left out")
	fs.StringVar(&f.humidity, "humidity-unit", "%", "its `unit`: % or ratio")
	fs.StringVar(&f.marksFile, "marks", "", "CSV `file` of marks: at,mark,mold,place,material,...")
	fs.StringVar(&f.until, "until", "", "stop at this `time`; the end of the file if left out")
	fs.DurationVar(&f.every, "every", 10*time.Minute, "how far apart the readings should be")
	fs.BoolVar(&f.opts.SkipBadRows, "skip-bad", false, "leave out rows that cannot be read, and count them")
	fs.BoolVar(&f.quiet, "quiet", false, "tell only the outlook at the end")
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	f.opts.Path = fs.Arg(0)
	if err := f.settle(); err != nil {
		return err
	}
	return f.run(ctx, out, errs)
}

// settle turns the flags into options.
func (f *replayFlags) settle() (err error) {
	if f.zone, err = time.LoadLocation(f.zoneName); err != nil {
		return fmt.Errorf("-zone: %w; write for example Europe/Brussels", err)
	}
	f.opts.Zone = f.zone
	units := map[string]recorded.TempUnit{"C": recorded.Celsius, "°C": recorded.Celsius, "F": recorded.Fahrenheit, "°F": recorded.Fahrenheit}
	humidities := map[string]recorded.HumidityUnit{"%": recorded.Percent, "ratio": recorded.Ratio}
	f.opts.TempUnit, f.opts.HumidityUnit = units[f.unit], humidities[f.humidity]
	if f.opts.TempUnit == 0 {
		return fmt.Errorf("-temp-unit: %q is neither C nor F", f.unit)
	}
	if f.opts.HumidityUnit == 0 {
		return fmt.Errorf("-humidity-unit: %q is neither %% nor ratio", f.humidity)
	}
	f.opts.Probes = []recorded.Probe{{Name: "recorded", TempColumn: f.tempCol, HumidityColumn: f.humidCol}}
	return nil
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
		fmt.Fprintf(errs, "%d rows could not be read and were left out\n", n)
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
		Record: &loop.Memory{}, Clock: d.clock, Tell: f.every,
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
