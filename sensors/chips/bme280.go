package chips

import (
	"context"
	"fmt"
	"math"

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

	idBMP180        = 0x55 // BMP180 data sheet, table 5
	tempSkipped     = 0x80000
	humiditySkipped = 0x8000
)

// bmeBudget bounds the transactions of one measurement. A sound chip needs three: start, one or two
// looks at the status after the typical time has passed, data.
const bmeBudget = 64

// BME280 opens a BME280 (temperature and humidity) or BMP280 (temperature only) at 0x76 or 0x77. It
// refuses a chip that a kernel driver owns. Pressure is not measured: nothing here needs it, and the
// chip warms itself less.
func BME280(bus i2c.Bus, addr uint16) sensors.Opener {
	return func(ctx context.Context) (sensors.Probe, error) {
		if err := unowned(bus, addr); err != nil {
			return nil, err
		}
		p := &bme280{addr: addr, guard: &i2cGuard{bus: bus, inspect: inspectBME280}}
		p.guard.begin(ctx, bmeBudget)
		dev, err := bmxx80.NewI2C(p.guard, addr, &bmxx80.Opts{Temperature: bmxx80.O4x, Humidity: bmxx80.O4x})
		if err := p.guard.result(err); err != nil {
			return nil, faulty(err, "open BME280 at %#x on %s", addr, bus)
		}
		p.dev = dev
		return p, nil
	}
}

type bme280 struct {
	addr  uint16
	guard *i2cGuard
	dev   *bmxx80.Dev
}

// Sense makes one forced measurement; it takes about 18 ms.
func (p *bme280) Sense(ctx context.Context) (sensors.Sample, error) {
	p.guard.begin(ctx, bmeBudget)
	var e physic.Env
	err := p.dev.Sense(&e)
	if err := p.guard.result(err); err != nil {
		return sensors.Sample{}, faulty(err, "measure with BME280 at %#x on %s", p.addr, p.guard)
	}
	var has physic.Env
	p.dev.Precision(&has)
	s := sensors.Sample{TempC: e.Temperature.Celsius(), Humidity: math.NaN()}
	if has.Humidity != 0 {
		s.Humidity = float64(e.Humidity) / float64(100*physic.PercentRH)
	}
	return s, nil
}

// Close leaves the chip asleep, where a forced measurement ends by itself.
func (p *bme280) Close() error { return nil }

// inspectBME280 looks at what the chip sent. Without it the driver takes zeros for −141 °C, ones for
// a measurement that never ends, and a channel that was skipped for a value.
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
