package chips

import (
	"context"
	"fmt"

	"periph.io/x/conn/v3/i2c"

	"pourward/sensors"
	"pourward/sensors/chips/sht"
)

// shtBudget bounds the transactions of one measurement; a sound chip needs four, its opening six.
const shtBudget = 12

// SHT3x opens an SHT30, SHT31 or SHT35 at 0x44 or 0x45. One measurement takes 20 ms; then the chip
// sleeps.
func SHT3x(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, shtKind(sht.SHT3x, 0x44, 0x45))
}

// SHT4x opens an SHT40, SHT41 or SHT45 at 0x44, 0x45 or 0x46. One measurement takes 12 ms; then the
// chip sleeps.
func SHT4x(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, shtKind(sht.SHT4x, 0x44, 0x45, 0x46))
}

func shtKind(model sht.Model, addrs ...uint16) kind {
	return kind{
		name:    model.String(),
		addrs:   addrs,
		budget:  shtBudget,
		inspect: inspectWords,
		// The driver is ours: it goes on after a refusal only where that is right.
		forgives: func(_ []byte, err error) bool { return kindOf(err) == sensors.NoResponse },
		open: func(_ context.Context, g *i2cGuard, addr uint16) (device, error) {
			dev, err := sht.NewI2C(g, addr, &sht.Opts{Model: model})
			if err != nil {
				return device{}, err
			}
			d := device{sense: sensing(dev, true)}
			if _, told := dev.Serial(); told {
				d.id = func() (string, error) {
					serial, err := dev.ReadSerial()
					return fmt.Sprintf("%08X", serial), err
				}
			}
			return d, nil
		},
	}
}
