package chips

import (
	"context"
	"fmt"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bmxx80"

	"pourward/sensors"
)

// Registers and codes of the chip (Bosch BST-BME280-DS002, 5.3 and 4).
const (
	regTrimLow  = 0x88
	regTrimHigh = 0xE1
	regID       = 0xD0
	regStatus   = 0xF3
	regData     = 0xF7

	trimLowBytes = 26

	idBMP180        = 0x55 // BMP180 data sheet, table 5
	tempSkipped     = 0x80000
	humiditySkipped = 0x8000
)

// bmeBudget bounds the transactions of one measurement. A sound chip needs four: calibration, start, one
// or two looks at the status after the typical time has passed, data.
const bmeBudget = 60

// BME280 opens a BME280 (temperature and humidity) or BMP280 (temperature only) at 0x76 or 0x77. It
// refuses a chip that a kernel driver owns. Pressure is not measured: nothing here needs it, and the
// chip warms itself less. One measurement takes about 18 ms; then the chip sleeps.
//
// The chip sends no checksum, so everything is read twice. It has no number of its own either; its
// calibration stands for one.
func BME280(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, kind{
		name:    "BME280",
		addrs:   []uint16{0x76, 0x77},
		budget:  bmeBudget,
		below:   func(b i2c.Bus) i2c.Bus { return twice{b, func(w, _ []byte) bool { return w[0] != regStatus }} },
		inspect: inspectBME280,
		open:    openBME280,
	})
}

func openBME280(_ context.Context, g *i2cGuard, addr uint16) (device, error) {
	dev, err := bmxx80.NewI2C(g, addr, &bmxx80.Opts{Temperature: bmxx80.O4x, Humidity: bmxx80.O4x})
	if err != nil {
		return device{}, err
	}
	var has physic.Env
	dev.Precision(&has)
	id := func() (string, error) {
		trim := make([]byte, trimLowBytes)
		err := g.Tx(addr, []byte{regTrimLow}, trim)
		return fmt.Sprintf("%X", trim), err
	}
	return device{sense: sensing(dev, has.Humidity != 0), id: id}, nil
}

// inspectBME280 looks at what the chip sent. Without it the driver (bmxx80 v3.7.4) takes zeros for
// −141 °C, ones for a measurement that never ends, and a channel that was skipped for a value.
func inspectBME280(w, r []byte) error {
	if len(w) != 1 || len(r) == 0 {
		return nil
	}
	switch w[0] {
	case regID:
		if r[0] == idBMP180 {
			return fmt.Errorf("this is a BMP180, which cannot be told from a dead one by its bytes; use a BME280 or BMP280")
		}
		return dead("chip id", r)
	case regTrimLow, regTrimHigh:
		return dead("calibration", r)
	case regStatus:
		if r[0] == 0xFF {
			return dead("status", r)
		}
	case regData:
		return inspectData(r)
	}
	return nil
}

func inspectData(r []byte) error {
	if err := dead("measurement", r); err != nil {
		return err
	}
	if len(r) >= 6 && uint32(r[3])<<12|uint32(r[4])<<4|uint32(r[5])>>4 == tempSkipped {
		return found(sensors.PowerOn, "temperature was not measured (% X): the chip has restarted", r)
	}
	if len(r) >= 8 && uint16(r[6])<<8|uint16(r[7]) == humiditySkipped {
		return found(sensors.PowerOn, "humidity was not measured (% X): the chip has restarted", r)
	}
	return nil
}
