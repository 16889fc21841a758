package main

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"path/filepath"
	"time"

	"periph.io/x/conn/v3/i2c"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/kernel"
	"pourward/sensors/network"
)

// live makes the sources of the probes that measure now. It is also the handler to which readings are
// pushed, once the sources are made.
type live struct {
	config *config.Config
	log    *slog.Logger
	open   boardOpener
	secret secretReader
	pushed *network.Push // nil where nothing is pushed
}

func newLive(c *config.Config, log *slog.Logger) *live {
	return &live{config: c, log: log, open: openBoard, secret: secretFrom}
}

// boardOpener opens an I²C bus of the board; sys is the root of sysfs.
type boardOpener func(path, sys string) (i2c.Bus, error)

func openBoard(path, sys string) (i2c.Bus, error) {
	return chips.OpenBoard(path, filepath.Join(sys, "bus", "i2c", "devices"))
}

// pushPath is where readings are pushed to.
const pushPath = "/push"

// pushes reports whether any probe pushes its readings.
func (l *live) pushes() bool {
	for _, p := range l.config.Probes {
		if p.Pushed != nil {
			return true
		}
	}
	return false
}

// ServeHTTP takes readings that are pushed.
func (l *live) ServeHTTP(w http.ResponseWriter, r *http.Request) { l.pushed.ServeHTTP(w, r) }

// sources makes the sources. What came over a network while the daemon was away is asked for from the
// last reading in the journal on; where that keeps none, from as far back as the config says.
func (l *live) sources(ctx context.Context, past past, clock sensors.Clock) ([]sensors.Source, error) {
	if back := l.config.Journal.AskBack; back > 0 {
		from := clock.Now().Add(-back)
		return l.all(ctx, clock, func(context.Context, string) (time.Time, error) { return from, nil })
	}
	return l.all(ctx, clock, past.LastOf)
}

// lastOf tells the instant of a probe's last reading on record.
type lastOf func(ctx context.Context, probe string) (time.Time, error)

func (l *live) all(ctx context.Context, clock sensors.Clock, last lastOf) ([]sensors.Source, error) {
	out := l.polled(clock)
	listening, err := l.listening(ctx, clock, last)
	asking, err2 := l.asking(ctx, clock, last)
	receiving, err3 := l.receiving(ctx, clock, last)
	if err := errors.Join(err, err2, err3); err != nil {
		return nil, err
	}
	for _, s := range append(append(listening, asking...), receiving...) {
		out = append(out, correct(s, l.config.Probes))
	}
	return out, nil
}

// polled makes one poller a bus, so that a bus is never asked two things at once. The chips of the kernel's
// drivers have one each: there it sees to that.
func (l *live) polled(clock sensors.Clock) []sensors.Source {
	buses := map[string]*bus{}
	var out []sensors.Source
	for _, p := range l.config.Probes {
		path, sys, ok := busOf(p)
		if !ok {
			continue
		}
		b := buses[path]
		if b == nil {
			b = &bus{open: func() (i2c.Bus, error) { return l.open(path, sys) }, clock: clock, wires: map[uint16]*chips.Wire{}}
			b.poller = &sensors.Poller{Clock: clock, Log: l.log, Seed: uint64(len(buses))}
			buses[path] = b
			out = append(out, b.poller)
		}
		b.poller.Probes = append(b.poller.Probes, sensors.Polled{
			Name: p.Name, Every: p.Every, Open: b.opener(p), Limits: p.Limits, Correct: p.Correct,
		})
	}
	return out
}

// busOf names the bus of a probe that is asked by a poller and, for one on an I²C bus, the root of sysfs.
func busOf(p config.Probe) (path, sys string, ok bool) {
	switch {
	case p.Chip != nil:
		return p.Chip.Bus, p.Chip.Sys, true
	case p.Bridged != nil:
		return p.Bridged.Bridge.Bus, p.Bridged.Bridge.Sys, true
	case p.W1 != nil:
		return p.W1.Root, "", true
	case p.Hwmon != nil:
		return filepath.Join(p.Hwmon.Root, p.Hwmon.Name), "", true
	case p.IIO != nil:
		return filepath.Join(p.IIO.Root, p.IIO.Name), "", true
	}
	return "", "", false
}

// bus is one bus of the board with the probes on it.
type bus struct {
	poller *sensors.Poller
	clock  sensors.Clock
	open   func() (i2c.Bus, error)
	i2c    i2c.Bus                // once it could be opened
	wires  map[uint16]*chips.Wire // behind bridges, by their addresses
}

// opener says how a probe of the bus is opened.
func (b *bus) opener(p config.Probe) sensors.Opener {
	switch {
	case p.W1 != nil:
		return kernel.W1(p.W1.Root, p.W1.ID)
	case p.Hwmon != nil:
		return kernel.Hwmon(p.Hwmon.Root, p.Hwmon.Name)
	case p.IIO != nil:
		return kernel.IIO(p.IIO.Root, p.IIO.Name, p.IIO.Humidity)
	case p.Bridged != nil:
		return b.once(func(on i2c.Bus) sensors.Opener { return b.wire(on, p.Bridged.Bridge.Address).DS18B20(p.Bridged.ROM) })
	}
	return b.once(func(on i2c.Bus) sensors.Opener { return chipOpeners()[p.Chip.Kind](on, p.Chip.Address) })
}

// once is an opener that opens the bus when it is first needed, and is made when that is done: the bus may
// come later than the daemon, and an opener knows its chip again.
func (b *bus) once(made func(on i2c.Bus) sensors.Opener) sensors.Opener {
	var open sensors.Opener
	return func(ctx context.Context) (sensors.Probe, error) {
		if b.i2c == nil {
			on, err := b.open()
			if err != nil {
				return nil, err
			}
			b.i2c = on
		}
		if open == nil {
			open = made(b.i2c)
		}
		return open(ctx)
	}
}

// wire is the 1-wire bus behind the bridge at an address.
func (b *bus) wire(on i2c.Bus, bridge uint16) *chips.Wire {
	w := b.wires[bridge]
	if w == nil {
		w = chips.NewWire(chips.Bridge(on, bridge), b.clock)
		b.wires[bridge] = w
	}
	return w
}

// chipOpeners say how each kind of chip is opened.
func chipOpeners() map[config.ChipKind]func(i2c.Bus, uint16) sensors.Opener {
	return map[config.ChipKind]func(i2c.Bus, uint16) sensors.Opener{
		config.AHT20: chips.AHT20, config.AM2320: chips.AM2320, config.BME280: chips.BME280,
		config.HDC302x: chips.HDC302x, config.MCP9808: chips.MCP9808, config.SCD4x: chips.SCD4x,
		config.SHT3x: chips.SHT3x, config.SHT4x: chips.SHT4x, config.TMP102: chips.TMP102,
	}
}
