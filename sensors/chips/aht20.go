package chips

import (
	"context"
	"errors"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/aht20"

	"pourward/sensors"
	"pourward/sensors/chips/sht"
)

const (
	ahtCalibrated = 0x08 // bit of the status, the first byte
	ahtFrame      = 7    // bytes

	// ahtBudget bounds the transactions of one measurement; a sound chip needs two.
	ahtBudget = 24
)

// AHT20 opens an AHT20 at 0x38. One measurement takes 80 ms; then the chip sleeps.
//
// Opening proves little: the driver (aht20 v3.7.4) is content with any byte for a status. The
// measurement's frame is what is looked at.
func AHT20(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, kind{
		name:    "AHT20",
		addrs:   []uint16{0x38},
		budget:  ahtBudget,
		inspect: inspectAHT20,
		open: func(_ context.Context, g *i2cGuard, _ uint16) (device, error) {
			dev, err := aht20.NewI2C(g, nil)
			if err != nil {
				return device{}, err
			}
			return device{sense: func(context.Context) (sensors.Sample, error) { return senseAHT20(dev) }}, nil
		},
	})
}

func senseAHT20(dev *aht20.Dev) (sensors.Sample, error) {
	var e physic.Env
	err := dev.Sense(&e)
	var late *aht20.ReadTimeoutError
	if errors.As(err, &late) {
		return sensors.Sample{}, &sensors.FaultError{Fault: sensors.Timeout, Doing: "wait for the end of the measurement", Cause: err}
	}
	return sampleOf(e, true), err
}

// inspectAHT20 looks at a frame: status, five bytes of data, checksum (data sheet, 5.4; the checksum is
// that of [sht.Checksum]).
func inspectAHT20(_, r []byte) error {
	if len(r) == 1 {
		if r[0] == 0xFF {
			return dead("status", r)
		}
		return nil
	}
	if len(r) != ahtFrame {
		return nil
	}
	if err := dead("frame", r); err != nil {
		return err
	}
	data := r[1:6]
	switch {
	case sht.Checksum(r[:6]) != r[6]:
		return found(sensors.BadChecksum, "frame % X", r)
	case r[0]&ahtCalibrated == 0:
		return found(sensors.PowerOn, "the chip has restarted (frame % X)", r)
	case every(data, 0x00), every(data, 0xFF):
		return found(sensors.PowerOn, "the chip has measured nothing (frame % X)", r)
	}
	return nil
}
