package main

import (
	"context"
	"log/slog"
	"path/filepath"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/kernel"
)

// liveSources makes the sources of the probes that measure now: one poller a bus, so that a bus is
// never asked two things at once.
func liveSources(c *config.Config, clock sensors.Clock, log *slog.Logger) []sensors.Source {
	buses := map[string]*bus{}
	var out []sensors.Source
	for _, p := range c.Probes {
		path := busOf(p)
		b := buses[path]
		if b == nil {
			b = &bus{path: path, poller: &sensors.Poller{Clock: clock, Log: log, Seed: uint64(len(buses))}}
			buses[path] = b
			out = append(out, b.poller)
		}
		b.poller.Probes = append(b.poller.Probes, sensors.Polled{
			Name: p.Name, Every: p.Every, Open: b.opener(p), Correct: sensors.Correction{OffsetK: p.OffsetK},
		})
	}
	return out
}

// bus is one bus of the board with the probes on it.
type bus struct {
	path   string
	poller *sensors.Poller
	board  *chips.Board // of an I²C bus, once it could be opened
}

func busOf(p config.Probe) string {
	if p.BME280 != nil {
		return p.BME280.Bus
	}
	return p.W1.Root
}

// opener says how a probe of the bus is opened.
func (b *bus) opener(p config.Probe) sensors.Opener {
	if p.W1 != nil {
		return kernel.W1(p.W1.Root, p.W1.ID)
	}
	return func(ctx context.Context) (sensors.Probe, error) {
		if b.board == nil {
			board, err := chips.OpenBoard(b.path, filepath.Join(p.BME280.Sys, "bus", "i2c", "devices"))
			if err != nil {
				return nil, err
			}
			b.board = board
		}
		return chips.BME280(b.board, p.BME280.Address)(ctx)
	}
}
