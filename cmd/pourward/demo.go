package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"periph.io/x/conn/v3/onewire"

	"pourward/alerts"
	"pourward/cmd/pourward/internal/config"
	"pourward/model"
	"pourward/model/journal"
	"pourward/model/loop"
	"pourward/model/material"
	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

const demoAbout = `Watches an invented shop: the unheated annex of a museum, in January. A workshop molds a plaster frieze
there: two seal coats, release agent, a batch of slow platinum-cure silicone, and a night in the cold before
the mold may come off. The probes are simulated chips, read through the real drivers; time runs fast. Started
again, it goes on where it stopped.`

// The demo's shop.
const (
	demoZone = "Europe/Brussels"
	demoBus  = 0x76
	demoROM  = 0x51D4A7 // serial number of the simulated thermometer
)

// every is how often the probes are asked, in the shop's time: so often that the machine is not hurried
// when the time runs fast.
func (f demoFlags) every() time.Duration {
	return time.Duration(max(1, f.speed/120) * float64(time.Minute)).Round(time.Second)
}

// demoFlags are what the demo is told.
type demoFlags struct {
	speed   float64
	seed    uint64
	listen  string
	dir     string
	fresh   bool
	sound   bool
	logging bool
}

func demo(ctx context.Context, args []string, out, errs io.Writer) error {
	f := demoFlags{}
	set := flags("demo", "", demoAbout, errs)
	set.Float64Var(&f.speed, "speed", 360, "`seconds` of the shop that pass in a real second")
	set.Uint64Var(&f.seed, "seed", 1, "`number` the weather and the probes' noise are drawn from")
	set.StringVar(&f.listen, "listen", "127.0.0.1:8673", "`address` of the page and /metrics")
	set.StringVar(&f.dir, "dir", demoDir(), "`folder` of the demo's journal")
	set.BoolVar(&f.fresh, "fresh", false, "begin the story anew")
	set.BoolVar(&f.sound, "sound", false, "leave the pattern's probe alone: nobody pulls its plug in the evening")
	set.BoolVar(&f.logging, "log", false, "write the daemon's log as well")
	if err := parse(set, args, 0); err != nil {
		return err
	}
	if f.speed < 1 || f.speed > 1200 {
		return fmt.Errorf("-speed: %g is not from 1 to 1200", f.speed)
	}
	if !config.Loopback(f.listen) {
		return fmt.Errorf("-listen: %q lets the network in, and the demo asks nobody who they are; write e.g. 127.0.0.1:8673", f.listen)
	}
	return f.run(ctx, out, errs)
}

// demoDir is where the demo keeps its journal unless told otherwise.
func demoDir() string {
	base, err := os.UserCacheDir()
	if err != nil {
		base = os.TempDir()
	}
	return filepath.Join(base, "pourward-demo")
}

func (f demoFlags) run(ctx context.Context, out, errs io.Writer) error {
	s, err := f.set(ctx)
	if err != nil {
		return err
	}
	return runShop(ctx, f.options(s, out, errs))
}

// set sets the stage: where the story stopped, or at its beginning.
func (f demoFlags) set(ctx context.Context) (*stage, error) {
	zone, err := time.LoadLocation(demoZone)
	if err != nil {
		return nil, fmt.Errorf("load the demo's time zone: %w", err)
	}
	if err := os.MkdirAll(f.dir, 0o755); err != nil {
		return nil, fmt.Errorf("make the demo's folder: %w", err)
	}
	s := &stage{zone: zone, file: filepath.Join(f.dir, "demo.journal")}
	if f.fresh {
		if err := forget(s.file); err != nil {
			return nil, err
		}
	}
	begin, story, err := resume(ctx, s.file, zone)
	if err != nil {
		return nil, err
	}
	s.story, s.climate = story, simulated.NewClimate(f.seed, story, zone)
	if begin.Equal(story) {
		if err := s.past(ctx); err != nil {
			return nil, err
		}
	}
	s.clock = sensors.NewFastClock(begin, f.speed)
	return s, nil
}

// options are those of a shop on the demo's stage.
func (f demoFlags) options(s *stage, out, errs io.Writer) shopOptions {
	narrator := newNarrator(out, s.zone)
	maker := newMaker(s)
	log := slog.New(slog.DiscardHandler)
	if f.logging {
		log = logger(errs, slog.LevelInfo, false)
	}
	return shopOptions{
		name: "The annex", zone: s.zone, listen: f.listen, journal: s.file, clock: s.clock, log: log,
		late: max(2*time.Minute, time.Duration(f.speed*float64(10*time.Second))), // a busy board needs its time, however fast the shop's runs
		setup: model.Setup{
			Places: []string{"bench", "pattern"},
			Probes: []model.Probe{
				{Name: "bench-air", Place: "bench", Every: f.every(), AccuracyK: 0.5},
				{Name: "pattern-skin", Place: "pattern", Every: f.every(), AccuracyK: 0.25},
			},
			Shelf: material.Generic(), Zone: s.zone,
		},
		sources: func(context.Context, past, sensors.Clock) ([]sensors.Source, error) {
			return s.sources(log, f.every(), f.sound), nil
		},
		watch: func(snap *model.Snapshot, changes []alerts.Change) {
			narrator.watch(snap, changes)
			maker.look(snap)
		},
		ready: func(url string) {
			fmt.Fprintf(out, "page %s/  metrics %s/metrics\n", url, url)
			fmt.Fprintf(out, "journal %s; the shop's time runs %g times as fast as yours; ctrl-C ends\n\n", s.file, f.speed)
		},
		beside: func(ctx context.Context, l *loop.Loop) error { return maker.work(ctx, l, out) },
	}
}

// forget removes a journal of the demo with what belongs to it.
func forget(file string) error {
	for _, end := range []string{"", "-wal", "-shm", ".lock"} {
		if err := os.Remove(file + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("begin anew: %w", err)
		}
	}
	return nil
}

// resume looks where the story stopped: it returns the instant to go on from and the morning on which it
// began. A story that came to its end is begun anew.
func resume(ctx context.Context, file string, zone *time.Location) (begin, story time.Time, err error) {
	story = time.Date(2026, time.January, 14, 11, 30, 0, 0, zone)
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return story, story, nil
	}
	j, err := journal.Open(ctx, file, journal.Options{})
	if err != nil {
		return begin, story, fmt.Errorf("%w; -fresh begins the story anew", err)
	}
	marks, err := j.Marks(ctx)
	_, last, spanErr := j.Span(ctx)
	if err := errors.Join(err, spanErr, j.Close(ctx)); err != nil {
		return begin, story, err
	}
	if len(marks) > 0 && marks[len(marks)-1].Kind == model.Demolded {
		return story, story, forget(file)
	}
	if last.IsZero() {
		last = story
	}
	return last, story, nil
}

// stage is the invented shop: its time, its weather and its probes.
type stage struct {
	file    string // of its journal
	zone    *time.Location
	story   time.Time
	clock   sensors.Clock
	climate *simulated.Climate
}

// watched is for how long the shop has been watched when the story begins, so that its days are known.
const watched = 5 * 24 * time.Hour

// past records the days before the story, straight from the invented climate.
func (s *stage) past(ctx context.Context) error {
	j, err := journal.Open(ctx, s.file, journal.Options{})
	if err != nil {
		return err
	}
	for t := s.story.Add(-watched); t.Before(s.story); t = t.Add(5 * time.Minute) {
		for _, r := range []sensors.Reading{
			{Probe: "bench-air", At: t, Temp: sensors.GoodMeasure(s.climate.AnnexC(t)), Humidity: sensors.GoodMeasure(s.climate.Humidity(t))},
			{Probe: "pattern-skin", At: t, Temp: sensors.GoodMeasure(s.climate.PatternC(t))},
		} {
			if err := j.AppendReading(r.Rounded()); err != nil {
				return errors.Join(err, j.Close(ctx))
			}
		}
	}
	return j.Close(ctx)
}

// sources are two buses with one simulated chip each, read through the real drivers.
func (s *stage) sources(log *slog.Logger, every time.Duration, sound bool) []sensors.Source {
	bus := simulated.NewBus("simulated I²C")
	bus.Attach(demoBus, simulated.NewBME280(s.climate.Bench(s.clock)))
	thermometer := simulated.NewDS18B20(simulated.ROM(demoROM), s.climate.Pattern(s.clock))
	line := simulated.NewLine(s.clock)
	line.Attach(thermometer)
	var wire onewire.Bus = line
	if !sound {
		wire = &loosePlug{Bus: line, chip: thermometer, clock: s.clock, out: s.story.Add(10 * time.Hour), in: s.story.Add(11 * time.Hour)}
	}
	return []sensors.Source{
		&sensors.Poller{Clock: s.clock, Log: log, Seed: 1, Probes: []sensors.Polled{
			{Name: "bench-air", Every: every, Open: chips.BME280(bus, demoBus)},
		}},
		&sensors.Poller{Clock: s.clock, Log: log, Seed: 2, Probes: []sensors.Polled{
			{Name: "pattern-skin", Every: every, Open: chips.NewWire(func() (onewire.Bus, error) { return wire, nil }, s.clock).DS18B20(thermometer.Address())},
		}},
	}
}

// loosePlug is a wire whose thermometer is unplugged for a while.
type loosePlug struct {
	onewire.Bus
	chip    *simulated.DS18B20
	clock   sensors.Clock
	out, in time.Time
}

// Tx makes one transaction with what is plugged in.
func (p *loosePlug) Tx(w, r []byte, power onewire.Pullup) error {
	trouble := simulated.None
	if now := p.clock.Now(); now.After(p.out) && now.Before(p.in) {
		trouble = simulated.Gone
	}
	p.chip.Break(trouble)
	return p.Bus.Tx(w, r, power)
}
