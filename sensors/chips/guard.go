package chips

import (
	"context"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/conn/v3/physic"

	"pourward/sensors"
)

// watch is what both guards share: the limits of one measurement and its first error.
type watch struct {
	ctx  context.Context
	left int   // transactions that may still be made
	err  error // first error, as the bus gave it or as the bytes showed it
}

// begin starts a measurement.
func (g *watch) begin(ctx context.Context, budget int) { *g = watch{ctx: ctx, left: budget} }

// tx makes one transaction unless the measurement has failed or used up its limits, and keeps the
// first error.
func (g *watch) tx(call, inspect func() error) error {
	if g.err == nil {
		g.err = g.allowed()
	}
	if g.err == nil {
		g.err = call()
	}
	if g.err == nil {
		g.err = inspect()
	}
	return g.err
}

func (g *watch) allowed() error {
	if err := g.ctx.Err(); err != nil {
		return err
	}
	if g.left == 0 {
		return found(sensors.Timeout, "the chip still says busy after its share of transactions")
	}
	g.left--
	return nil
}

// result returns the error of a measurement: what the guard kept goes before what the driver made of it.
func (g *watch) result(driver error) error {
	if g.err != nil {
		return g.err
	}
	return driver
}

// i2cGuard stands between an I²C driver and its bus. After the first error it does not return to the
// driver at all: several of them meet an error with more attempts and long sleeps (am2320 v3.7.4 with
// 20 s of them), during which no other probe of the bus could be asked.
type i2cGuard struct {
	watch
	bus      i2c.Bus
	inspect  func(w, r []byte) error        // looks at what was read
	forgives func(w []byte, err error) bool // errors that the driver is to handle; none when nil
}

// leave is what the guard throws to get out of a driver.
type leave struct{}

// run makes the calls of one measurement and returns the error that counts.
func (g *i2cGuard) run(ctx context.Context, budget int, calls func() error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	g.begin(ctx, budget)
	defer func() {
		if thrown := recover(); thrown != nil {
			if _, ours := thrown.(leave); !ours {
				panic(thrown)
			}
			err = g.err
		}
	}()
	return calls()
}

func (g *i2cGuard) String() string                    { return g.bus.String() }
func (g *i2cGuard) SetSpeed(f physic.Frequency) error { return g.bus.SetSpeed(f) }

func (g *i2cGuard) Tx(addr uint16, w, r []byte) error {
	var forgiven error
	transfer := func() error {
		err := g.bus.Tx(addr, w, r)
		if err != nil && g.forgives != nil && g.forgives(w, err) {
			forgiven, err = err, nil
		}
		return err
	}
	look := func() error {
		if forgiven != nil {
			return nil
		}
		return g.inspect(w, r)
	}
	if g.tx(transfer, look) != nil {
		panic(leave{})
	}
	return forgiven
}

// wireGuard stands between a 1-wire driver and its bus.
type wireGuard struct {
	watch
	bus     onewire.Bus
	inspect func(w, r []byte) error
}

func (g *wireGuard) String() string { return g.bus.String() }

func (g *wireGuard) Tx(w, r []byte, power onewire.Pullup) error {
	return g.tx(
		func() error { return g.bus.Tx(w, r, power) },
		func() error { return g.inspect(w, r) })
}

func (g *wireGuard) Search(alarmOnly bool) ([]onewire.Address, error) { return g.bus.Search(alarmOnly) }

// every reports whether a block consists of one byte value only.
func every(b []byte, value byte) bool {
	for _, v := range b {
		if v != value {
			return false
		}
	}
	return len(b) > 0
}

// dead returns an error for a block that no chip sends: all zeros or all ones.
func dead(what string, b []byte) error {
	switch {
	case every(b, 0x00):
		return found(sensors.BusError, "%s reads all zeros: data line shorted or chip without supply", what)
	case every(b, 0xFF):
		return found(sensors.NoResponse, "%s reads all ones: nobody drives the data line", what)
	}
	return nil
}
