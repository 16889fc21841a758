package chips

import (
	"context"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/devices/v3/scd4x"

	"pourward/sensors"
)

const (
	scdStops    = 500 * time.Millisecond // until the chip answers again after it was told to stop
	scdMeasures = 5 * time.Second        // between its measurements

	// scdBudget bounds the transactions of one measurement: while there is none the driver asks each
	// second for six seconds.
	scdBudget = 16

	scdMostOffset = 20.0 // °C; the data sheet recommends 0 to 20
)

// SCD4x opens the temperature and humidity part of an SCD40 or SCD41 at 0x62. Opening takes 6 s, a
// measurement up to 5 s more; the probe's deadline should not be below 10 s. The chip measures on by
// itself, and its temperature is only as good as its offset for the heat it makes: mind that for a
// probe on which a mold depends.
//
// The driver (scd4x v3.7.4) reads an offset of 4 K as 4 nK and sets it to 80 K when asked for 4 K. Here
// the offset is never set, and a chip that has such a false one is refused.
func SCD4x(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, kind{
		name:     "SCD4x",
		addrs:    []uint16{scd4x.SensorAddress},
		budget:   scdBudget,
		inspect:  inspectWords,
		forgives: wakesSCD4x,
		open:     openSCD4x,
	})
}

// wakesSCD4x lets the wake-up fail: a chip that measures refuses it and the driver then stops it first.
func wakesSCD4x(w []byte, err error) bool {
	return len(w) == 2 && word(w) == 0x36F6 && kindOf(err) == sensors.NoResponse
}

func openSCD4x(ctx context.Context, g *i2cGuard, addr uint16) (device, error) {
	if err := checkOffset(ctx, &i2c.Dev{Bus: g, Addr: addr}); err != nil {
		return device{}, err
	}
	dev, err := scd4x.NewI2C(g, addr)
	if err != nil {
		return device{}, err
	}
	if err := pause(ctx, scdMeasures); err != nil {
		return device{}, err
	}
	sense := func(context.Context) (sensors.Sample, error) {
		var e scd4x.Env
		if err := dev.Sense(&e); err != nil {
			// An error of the bus does not come here; what is left is that nothing was measured.
			return sensors.Sample{}, &sensors.FaultError{Fault: sensors.Timeout, Doing: "wait for a measurement, which a restarted chip does not make", Cause: err}
		}
		return sampleOf(e.Env, true), nil
	}
	return device{sense: sense, halt: dev.Halt}, nil
}

// checkOffset stops the chip, which else would not tell, and looks at its temperature offset.
func checkOffset(ctx context.Context, c *i2c.Dev) error {
	if err := c.Tx([]byte{0x3F, 0x86}, nil); err != nil {
		return err
	}
	if err := pause(ctx, scdStops+50*time.Millisecond); err != nil {
		return err
	}
	r := make([]byte, 3)
	if err := c.Tx([]byte{0x23, 0x18}, r); err != nil {
		return err
	}
	if offset := 175 * float64(word(r)) / 65535; offset > scdMostOffset {
		return found(sensors.OutOfRange, "the chip subtracts %.1f °C from what it measures, more than %g °C; set its temperature offset anew", offset, scdMostOffset)
	}
	return nil
}
