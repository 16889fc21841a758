package chips

import (
	"context"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/devices/v3/tmp102"

	"pourward/sensors"
)

// Registers and bits of the chip (Texas Instruments SBOS397, "Register map").
const (
	tmpTemp   = 0
	tmpConfig = 1

	tmpOnce  = 0x6040 // configuration: once a second, 12 bits, all else as at power-on, when it is 0x60A0
	tmpAlert = 0x0020 // its only bit that changes by itself

	tmpTakes = 40 * time.Millisecond // a conversion; at most 35 ms

	// tmpBudget bounds the transactions of one measurement; a sound chip needs three, its opening four.
	tmpBudget = 12
)

// TMP102 opens a TMP102 thermometer at 0x48 to 0x4B. It converts once a second; a measurement takes no
// time.
//
// The chip sends no checksum and tells no maker, and after a restart it reads 0 °C until its first
// conversion is done. So the temperature is read twice, and the chip is set to a rate that a restart
// undoes; a configuration that reads otherwise than it was written also shows a bus that spoils bytes.
//
// The driver (tmp102 v3.7.4) leaves a chip in the 13-bit format that another program may have set, and
// reads half of the temperature then; and it goes on after it failed to read the configuration. Here
// the whole configuration is written, and the guard ends what fails. The chip has no number: two that
// change places are not noticed.
func TMP102(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, kind{
		name:    "TMP102",
		addrs:   []uint16{0x48, 0x49, 0x4A, 0x4B},
		budget:  tmpBudget,
		below:   func(b i2c.Bus) i2c.Bus { return twice{b, func(w, _ []byte) bool { return w[0] != tmpTemp }} },
		inspect: inspectTMP102,
		open:    openTMP102,
	})
}

func openTMP102(ctx context.Context, g *i2cGuard, addr uint16) (device, error) {
	dev, err := tmp102.NewI2C(g, addr, &tmp102.Opts{SampleRate: tmp102.RateOneHertz, AlertSetting: tmp102.ModeComparator})
	if err != nil {
		return device{}, err
	}
	c := &i2c.Dev{Bus: g, Addr: addr}
	if err := c.Tx([]byte{tmpConfig, tmpOnce >> 8, tmpOnce & 0xFF}, nil); err != nil {
		return device{}, err
	}
	if err := pause(ctx, tmpTakes); err != nil {
		return device{}, err
	}
	marked := func() error { return markedTMP102(c) }
	return device{sense: between(sensing(dev, false), marked)}, nil
}

// markedTMP102 returns an error if the configuration is not what was written.
func markedTMP102(c *i2c.Dev) error {
	r := make([]byte, 2)
	if err := c.Tx([]byte{tmpConfig}, r); err != nil {
		return err
	}
	if v := word(r) &^ tmpAlert; v != tmpOnce {
		return found(sensors.PowerOn, "the configuration reads %#04x, not %#04x: the chip has restarted, or the bus spoils bytes", v, tmpOnce)
	}
	return nil
}

// inspectTMP102 looks at the configuration; every pair of bytes is a temperature.
func inspectTMP102(w, r []byte) error {
	if len(w) != 1 || w[0] != tmpConfig {
		return nil
	}
	return dead("configuration", r)
}
