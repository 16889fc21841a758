package chips

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"pourward/sensors"
)

// kind is what is particular to a kind of chip on an I²C bus.
type kind struct {
	name    string   // of the chip, for messages
	addrs   []uint16 // that it can have
	budget  int      // transactions that a measurement or an opening may take
	inspect func(w, r []byte) error
	open    func(ctx context.Context, g *i2cGuard, addr uint16) (device, error)

	below    func(i2c.Bus) i2c.Bus          // what the guard uses instead of the bus; nil: the bus
	forgives func(w []byte, err error) bool // see i2cGuard
}

// device is an open chip. Its functions are called behind the guard only.
type device struct {
	sense func(ctx context.Context) (sensors.Sample, error)
	halt  func() error           // nil: the chip is left as it is
	id    func() (string, error) // what no other chip of its kind has; nil: it has no such thing
}

// opener returns the Opener of a chip. It remembers which one it measured with first and refuses
// another: a probe that changed places with another would be recorded under the wrong name.
func opener(bus i2c.Bus, addr uint16, k kind) sensors.Opener {
	var known string
	return func(ctx context.Context) (sensors.Probe, error) {
		if !slices.Contains(k.addrs, addr) {
			return nil, fmt.Errorf("open %s on %s: it cannot have the address %#x, only %#x", k.name, bus, addr, k.addrs)
		}
		if err := unowned(bus, addr); err != nil {
			return nil, err
		}
		p := newI2CProbe(bus, addr, k, &known)
		err := p.guard.run(ctx, k.budget, func() (err error) {
			if p.dev, err = k.open(ctx, p.guard, addr); err != nil {
				return err
			}
			return p.same()
		})
		if err != nil {
			return nil, faulty(err, "open %s", p)
		}
		return p, nil
	}
}

// i2cProbe is a chip behind its guard.
type i2cProbe struct {
	kind
	addr  uint16
	guard *i2cGuard
	dev   device
	id    string  // of this chip; empty when it has none or was not asked yet
	known *string // id of the chip that this probe first measured with; empty before
	sound bool    // the last measurement went well
}

func newI2CProbe(bus i2c.Bus, addr uint16, k kind, known *string) *i2cProbe {
	if k.below != nil {
		bus = k.below(bus)
	}
	return &i2cProbe{kind: k, addr: addr, known: known, sound: true,
		guard: &i2cGuard{bus: bus, inspect: k.inspect, forgives: k.forgives}}
}

// String says which chip it is, where.
func (p *i2cProbe) String() string { return fmt.Sprintf("%s at %#x on %s", p.name, p.addr, p.guard) }

// Sense makes one measurement.
func (p *i2cProbe) Sense(ctx context.Context) (s sensors.Sample, err error) {
	p.sound = false
	err = p.guard.run(ctx, p.budget, func() error {
		if err := p.same(); err != nil {
			return err
		}
		s, err = p.dev.sense(ctx)
		return err
	})
	if err != nil {
		return sensors.Sample{}, faulty(err, "measure with %s", p)
	}
	p.sound = true
	*p.known = p.id // not before: what a spoiled bus gives for a number must not keep the chip out for ever
	return s, nil
}

// same returns an error if another chip answers than the one this probe measured with before.
func (p *i2cProbe) same() error {
	if p.dev.id == nil {
		if *p.known == "" {
			return nil
		}
		return found(sensors.OtherFault, "another chip answers: it tells no number, before it was %s; if it is to stay there, restart", *p.known)
	}
	id, err := p.dev.id()
	if err != nil {
		return err
	}
	if p.id == "" {
		p.id = id
	}
	for _, before := range [...]string{p.id, *p.known} {
		if before != "" && before != id {
			return found(sensors.OtherFault, "another chip answers: its number is %s, not %s; if it is to stay there, restart", id, before)
		}
	}
	return nil
}

// Close puts the chip to rest where that is needed. After a fault it is left alone: the next opening
// begins with that anyway.
func (p *i2cProbe) Close() error {
	if p.dev.halt == nil || !p.sound {
		return nil
	}
	return faulty(p.guard.run(context.Background(), p.budget, p.dev.halt), "put to rest %s", p)
}

// sampleOf returns what a driver measured. Chips that measure the temperature only have no humidity.
func sampleOf(e physic.Env, humid bool) sensors.Sample {
	s := sensors.Sample{TempC: e.Temperature.Celsius(), Humidity: math.NaN()}
	if humid {
		s.Humidity = float64(e.Humidity) / float64(100*physic.PercentRH)
	}
	return s
}

// sensing makes the sense function of a driver that keeps periph's contract.
func sensing(dev interface{ Sense(*physic.Env) error }, humid bool) func(context.Context) (sensors.Sample, error) {
	return func(context.Context) (sensors.Sample, error) {
		var e physic.Env
		if err := dev.Sense(&e); err != nil {
			return sensors.Sample{}, err
		}
		return sampleOf(e, humid), nil
	}
}

// pause waits, or ends with ctx.
func pause(ctx context.Context, d time.Duration) error {
	return sensors.RealClock{}.Wait(ctx, time.Now().Add(d))
}

// twice is a bus that reads some blocks two times, for chips that send no checksum: a bit that was
// misread is unlikely to be misread again.
type twice struct {
	i2c.Bus
	fixed func(w, r []byte) bool // blocks that must read the same again
}

func (t twice) Tx(addr uint16, w, r []byte) error {
	if err := t.Bus.Tx(addr, w, r); err != nil || len(r) == 0 || !t.fixed(w, r) {
		return err
	}
	again := make([]byte, len(r))
	if err := t.Bus.Tx(addr, w, again); err != nil {
		return err
	}
	if !slices.Equal(r, again) {
		return found(sensors.BadChecksum, "register %#x reads % X, then % X", w, r, again)
	}
	return nil
}
