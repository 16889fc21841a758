package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"math"
	"net/http"
	"syscall"
	"time"

	"pourward/cmd/pourward/internal/access"
	"pourward/cmd/pourward/internal/config"
	"pourward/dashboards/page"
	"pourward/model"
	"pourward/model/forecast"
	"pourward/model/material"
	"pourward/sensors"
)

const serveAbout = `Runs the daemon until it is told to stop. The config file says which probes there are and where the
journal lies; pourward check-config judges it first. SIGTERM, SIGINT and SIGHUP (its terminal is closed) end it
once every reading it has is on disk; a config file that was changed is read at the next start.`

func serve(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("serve", "", serveAbout, errs)
	file := fs.String("config", defaultConfig, "config `file`")
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	c, err := config.Load(*file)
	if err != nil {
		return orToldWrong(err)
	}
	o, err := fromConfig(c, logger(errs, c.Log.Level, c.Log.JSON))
	if err != nil {
		return orToldWrong(err)
	}
	if o.minder, err = newMinder(o.log); err != nil {
		return err
	}
	o.ready = func(url string) { fmt.Fprintf(out, "page %s/  metrics %s/metrics\n", url, url) }
	return runShop(ctx, o)
}

// toldWrong is what is wrong with the config file, or with a file that it names: to start again does not help before
// somebody has mended it.
type toldWrong struct{ error }

func (e toldWrong) Unwrap() error { return e.error }

// exitToldWrong is the exit code for it, EX_CONFIG of sysexits.h. The unit tells systemd not to start the daemon again.
const exitToldWrong = 78

// orToldWrong says of an error met before anything was started whether the files are wrong, or could not be read this time,
// as from a failing card.
func orToldWrong(err error) error {
	var system syscall.Errno
	if errors.As(err, &system) && !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, fs.ErrPermission) {
		return err
	}
	return toldWrong{err}
}

// fromConfig turns a checked config into the options of a shop.
func fromConfig(c *config.Config, log *slog.Logger) (shopOptions, error) {
	o := shopOptions{
		name: c.Shop.Name, zone: c.Shop.Zone, listen: c.Listen,
		work: c.Work, hosts: c.Hosts, journal: c.Journal.File, back: c.Journal.AskBack, flush: c.Journal.Flush, log: log,
	}
	var err error
	if o.door, err = doorFrom(c, log); err != nil {
		return o, err
	}
	if o.setup, err = setupFrom(c); err != nil {
		return o, err
	}
	o.unit = unitOf(c)
	recordedOnly, err := allRecorded(c.Probes)
	if err != nil {
		return o, err
	}
	if o.calls, err = callsFrom(c, recordedOnly, log); err != nil {
		return o, err
	}
	if !recordedOnly {
		l := newLive(c, log)
		o.board, o.sources = sensors.LinuxBoard{}, l.sources
		if l.pushes() {
			o.extra = map[string]http.Handler{"POST " + pushPath: l, "GET " + pushPath: l} // GET is told what to send
		}
		return o, nil
	}
	t := &tape{probes: c.Probes}
	o.clock, o.sources = t, t.sources
	return o, nil
}

// unitOf is the scale that people are shown.
func unitOf(c *config.Config) page.Unit {
	if c.Shop.Unit == config.Fahrenheit {
		return page.Fahrenheit
	}
	return page.Celsius
}

func setupFrom(c *config.Config) (model.Setup, error) {
	all, err := shelfFrom(c.Materials)
	if err != nil {
		return model.Setup{}, err
	}
	s := model.Setup{Shelf: all, Zone: c.Shop.Zone, Heated: map[string]forecast.Schedule{}}
	for _, p := range c.Places {
		s.Places = append(s.Places, p.Name)
		if h := p.Heated; h != nil {
			s.Heated[p.Name] = forecast.Schedule{Days: h.Days, From: h.From, To: h.To, HeatedC: h.TempC}
		}
	}
	for _, p := range c.Probes {
		s.Probes = append(s.Probes, model.Probe{Name: p.Name, Place: p.Place, Every: p.Every, AccuracyK: p.AccuracyK})
	}
	s.Scale, s.Rates, s.PatchGood = scaleFrom(c), c.Rates, c.PatchesVouchFor
	if c.Pour != nil {
		s.Pour = material.Window{MinC: c.Pour.MinC, MaxC: c.Pour.MaxC}
	}
	return s, nil
}

// doorFrom makes the door that the config asks for, nil where nobody is asked.
func doorFrom(c *config.Config, log *slog.Logger) (*access.Door, error) {
	if c.Access == nil {
		return nil, nil
	}
	web, err := access.LoadWeb(c.Access.WebFile)
	if err != nil {
		return nil, err
	}
	door, err := access.New(access.Options{Web: web, Roles: c.Access.Roles, Log: log})
	if err != nil {
		return nil, err
	}
	if c.Access.Network && door.TLS() == nil && c.Access.WithoutTLS == "" {
		return nil, fmt.Errorf("web configuration %s: passwords would cross the network in clear; write there e.g. tls_server_config: "+
			"{cert_file: annex.pem, key_file: annex.key}, or here under access e.g. without_tls: \"phones on the workshop's own Wi-Fi\"", c.Access.WebFile)
	}
	return door, nil
}

// allRecorded reports whether every probe is a recording. Recordings tell of another time than live
// probes, so the two cannot share a shop clock.
func allRecorded(probes []config.Probe) (bool, error) {
	n := 0
	for _, p := range probes {
		if p.Recorded != nil {
			n++
		}
	}
	if n > 0 && n < len(probes) {
		return false, errors.New("some probes are recorded files and some are live: they tell of different times; use one config file for each")
	}
	return n > 0, nil
}

// orNaN is a trusted value, or NaN.
func orNaN(m sensors.Measure) float64 {
	if m.OK() {
		return m.Value
	}
	return math.NaN()
}

const checkAbout = `Judges a config file without starting anything. Every problem is told with its line and column and
what to write instead.`

func checkConfig(_ context.Context, args []string, out, errs io.Writer) error {
	fs := flags("check-config", " FILE", checkAbout, errs)
	example := fs.Bool("example", false, "print an example file to start from")
	if err := parseFlags(fs, args); err != nil {
		return err
	}
	if *example {
		_, err := out.Write(config.Example())
		return err
	}
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	c, _, err := judged(fs.Arg(0))
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "%s is sound: %s, %s, journal %s, page at %s\n",
		fs.Arg(0), several(len(c.Places), "place"), several(len(c.Probes), "probe"), c.Journal.File, c.Listen)
	return nil
}

// judged reads a config file and what it names, and the door it asks for.
func judged(file string) (*config.Config, *access.Door, error) {
	c, err := config.Load(file)
	if err != nil {
		return nil, nil, err
	}
	recordedOnly, err := allRecorded(c.Probes)
	if err != nil {
		return nil, nil, err
	}
	if err := callsOf(c, recordedOnly); err != nil {
		return nil, nil, err
	}
	if _, err := shelfFrom(c.Materials); err != nil {
		return nil, nil, err
	}
	door, err := doorFrom(c, slog.New(slog.DiscardHandler))
	return c, door, err
}

// several counts things as a person would.
func several(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// dayTime is how the program writes an instant for people.
const dayTime = "Mon 2 Jan 15:04"

func at(t time.Time, zone *time.Location) string { return t.In(zone).Format(dayTime) }
