package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/chips"
)

// buses are the I²C buses of the board.
func (f probesFlags) buses(ctx context.Context) ([]*corner, error) {
	paths, err := filepath.Glob(filepath.Join(f.root, "dev", "i2c-*"))
	if err != nil {
		return nil, fmt.Errorf("-root: %w", err)
	}
	if len(paths) == 0 {
		c := &corner{title: "I²C buses, in " + filepath.Join(f.root, "dev"), note: "a bus shows here once the board's settings enable it"}
		return []*corner{c}, nil
	}
	var all []*corner
	for _, p := range paths {
		all = append(all, f.bus(ctx, p))
	}
	return all, nil
}

// bus is what one I²C bus has.
func (f probesFlags) bus(ctx context.Context, path string) *corner {
	sys := filepath.Join(f.root, "sys")
	c := &corner{title: "I²C bus " + path, note: "addresses at which no chip known here can sit were not asked"}
	b, err := f.open(path, sys)
	if err != nil {
		c.note = err.Error()
		return c
	}
	if closer, ok := b.(io.Closer); ok {
		defer closer.Close() // nothing is left to lose
	}
	for _, found := range chips.Look(ctx, b, filepath.Join(sys, "bus", "i2c", "devices")) {
		c.things = append(c.things, f.chip(ctx, b, spot{path, found.Addr, sys}, found)...)
	}
	return c
}

// spot is where a chip sits on an I²C bus.
type spot struct {
	bus  string
	addr uint16
	sys  string
}

// String is the spot as the config has it.
func (s spot) String() string {
	text := fmt.Sprintf("{bus: %q, address: %#x", s.bus, s.addr)
	if s.sys != "/sys" {
		text += fmt.Sprintf(", sys: %q", s.sys)
	}
	return text + "}"
}

// chip is what was found at an address, and what is behind it.
func (f probesFlags) chip(ctx context.Context, b i2c.Bus, at spot, found chips.Found) []*thing {
	t := &thing{title: found.String()}
	asked := f.measure == "all" || f.measure == "sure" && found.Sure
	out := []*thing{t}
	for _, kind := range found.Kinds {
		switch {
		case kind == "bridge" && asked:
			return append(out, behindBridge(ctx, b, at)...)
		case kind == "bridge":
			t.note = "not searched: -measure all searches the 1-wire line behind it"
		default:
			t.kind, t.asked = strings.ToLower(kind)+": "+at.String(), asked
			if !asked {
				t.note = notMeasured(found.Sure)
			}
		}
	}
	return out
}

func notMeasured(sure bool) string {
	if sure {
		return "not measured: -measure sure does, and writes to the chip"
	}
	return "not measured: -measure all does, and would write to whatever it is"
}

// behindBridge are the thermometers on the 1-wire line of a bridge.
func behindBridge(ctx context.Context, b i2c.Bus, at spot) []*thing {
	roms, err := chips.NewWire(chips.Bridge(b, at.addr), sensors.RealClock{}).Search(false)
	if err != nil {
		return []*thing{{title: "behind it", note: err.Error()}}
	}
	var out []*thing
	for _, rom := range roms {
		family, serial := uint64(rom)&0xFF, uint64(rom)>>8&(1<<48-1)
		t := &thing{title: fmt.Sprintf("behind it: %02x-%012x", family, serial)}
		if family == 0x28 {
			t.kind, t.asked = fmt.Sprintf("ds18b20: {bridge: %s, rom: %02x-%012x}", at, family, serial), ctx.Err() == nil
		} else {
			t.note = "no DS18B20, which is what is supported behind a bridge"
		}
		out = append(out, t)
	}
	if len(out) == 0 {
		out = append(out, &thing{title: "behind it", note: "nothing answers on its 1-wire line"})
	}
	return out
}

// measureThings measures with what was found, with the very lines that are told: they are read as a config
// file is, and its sources asked as the daemon would.
func measureThings(ctx context.Context, open boardOpener, all []*corner) error {
	text := "shop: {name: listing, zone: UTC}\njournal: {file: none}\nplaces: [{name: bench}]\nprobes:\n"
	waiting := map[string]*thing{}
	for _, c := range all {
		for _, t := range c.things {
			if t.asked {
				text += "  " + t.lines() + "\n"
				waiting[t.name] = t
			}
		}
	}
	if len(waiting) == 0 {
		return nil
	}
	c, err := config.Parse("listing", []byte(text))
	if err != nil {
		return fmt.Errorf("measure with what was found: %w", err)
	}
	ctx, cancel := context.WithTimeout(ctx, measureFor)
	l := &live{config: c, open: open}
	readings := make(chan sensors.Reading)
	var running sync.WaitGroup
	for _, s := range l.polled(sensors.RealClock{}) {
		running.Go(func() { _ = s.Run(ctx, readings) }) // it ends with the context
	}
	err = takeReadings(ctx, readings, waiting)
	cancel()
	running.Wait()
	return err
}

// takeReadings takes readings until each probe has given a value that can be judged, or has failed. When
// the time is over, what has not answered is left without one.
func takeReadings(ctx context.Context, readings <-chan sensors.Reading, waiting map[string]*thing) error {
	for len(waiting) > 0 {
		select {
		case r := <-readings:
			t := waiting[r.Probe]
			if t == nil {
				continue
			}
			t.reading = &r
			if r.Temp.Fault != sensors.Unsure && r.Humidity.Fault != sensors.Unsure {
				delete(waiting, r.Probe)
			}
		case <-ctx.Done():
			if errors.Is(ctx.Err(), context.DeadlineExceeded) {
				return nil
			}
			return ctx.Err()
		}
	}
	return nil
}

// measureFor is the longest the listing measures: long enough for a slow chip among dead ones.
const measureFor = 90 * time.Second
