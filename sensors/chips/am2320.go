package chips

import (
	"context"
	"encoding/binary"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/am2320"

	"pourward/sensors"
)

const (
	amAnswers  = 2 * time.Millisecond // from question to answer; product manual 8.2.4: at least 1.5 ms
	amMeasures = 2 * time.Second      // between readings, for the second to be fresh; same section
	amAnswer   = 8                    // bytes
	amHeader   = 0x0304               // of an answer: registers read, four bytes
	amMost     = 80.0                 // °C, what the chip measures; product manual, table 2
	amLeast    = -40.0

	// amBudget bounds the transactions of one measurement; a sound chip needs six: twice a wake-up that
	// is not acknowledged, one that is, a question.
	amBudget = 24
)

// AM2320 opens an AM2320 at 0x5C. One measurement takes 2.2 s: what the chip answers was measured after
// the answer before, so it is asked, left to measure, and asked again.
//
// Faults of the driver (am2320 v3.7.4) that are made good here: it reads the sign of temperatures below
// zero as part of the number (−10.1 °C as −3266.7 °C); it repeats a failed question for 20 s; and it
// reads the answer without the pause that the chip needs.
func AM2320(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, kind{
		name:     "AM2320",
		addrs:    []uint16{am2320.SensorAddress},
		budget:   amBudget,
		below:    func(b i2c.Bus) i2c.Bus { return unhurried{b, amAnswers} },
		inspect:  inspectAM2320,
		forgives: wakesAM2320,
		open:     openAM2320,
	})
}

// wakesAM2320 lets the wake-up fail: a chip that sleeps does not acknowledge it.
func wakesAM2320(w []byte, err error) bool {
	return len(w) == 1 && w[0] == 0 && kindOf(err) == sensors.NoResponse
}

// unhurried is a bus that pauses between question and answer.
type unhurried struct {
	i2c.Bus
	pause time.Duration
}

func (u unhurried) Tx(addr uint16, w, r []byte) error {
	if len(w) == 0 || len(r) == 0 {
		return u.Bus.Tx(addr, w, r)
	}
	if err := u.Bus.Tx(addr, w, nil); err != nil {
		return err
	}
	time.Sleep(u.pause)
	return u.Bus.Tx(addr, nil, r)
}

func openAM2320(_ context.Context, g *i2cGuard, addr uint16) (device, error) {
	dev, err := am2320.NewI2C(g, addr)
	if err != nil {
		return device{}, err
	}
	sense := func(ctx context.Context) (sensors.Sample, error) {
		var e physic.Env
		if err := dev.Sense(&e); err != nil { // old; it makes the chip measure
			return sensors.Sample{}, err
		}
		if err := pause(ctx, amMeasures); err != nil {
			return sensors.Sample{}, err
		}
		if err := dev.Sense(&e); err != nil {
			return sensors.Sample{}, err
		}
		return amSample(e)
	}
	return device{sense: sense}, nil
}

// amSample makes good the sign of a temperature.
func amSample(e physic.Env) (sensors.Sample, error) {
	s := sampleOf(e, true)
	raw := uint16((e.Temperature - physic.ZeroCelsius) / (physic.Kelvin / 10))
	tenths, ok := amTenths(raw)
	if !ok {
		return sensors.Sample{}, found(sensors.OutOfRange, "the chip sends %#04x for a temperature, which is none from %g to %g °C", raw, amLeast, amMost)
	}
	s.TempC = float64(tenths) / 10
	return s, nil
}

// amTenths returns tenths of a degree. Below zero the product manual has the sign in the highest bit;
// some chips of the family send two's complement instead (adafruit/DHT-sensor-library issue 182). What
// the chip can measure lies in different numbers for the two, so each is taken for what it is.
func amTenths(raw uint16) (int, bool) {
	signed := int(raw & 0x7FFF)
	if raw&0x8000 != 0 {
		signed = -signed
	}
	for _, v := range [...]int{signed, int(int16(raw))} {
		if float64(v) >= amLeast*10 && float64(v) <= amMost*10 {
			return v, true
		}
	}
	return 0, false
}

// inspectAM2320 looks at an answer: header, humidity, temperature, checksum.
func inspectAM2320(_, r []byte) error {
	if len(r) != amAnswer {
		return nil
	}
	if err := dead("answer", r); err != nil {
		return err
	}
	switch {
	case modbus(r[:6]) != binary.LittleEndian.Uint16(r[6:]) || word(r) != amHeader:
		return found(sensors.BadChecksum, "answer % X", r)
	case every(r[2:6], 0):
		return found(sensors.PowerOn, "the chip has measured nothing (answer % X)", r)
	}
	return nil
}

// modbus is the checksum of the Modbus protocol (Modbus over serial line, version 1.02, 6.2.2).
func modbus(b []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, v := range b {
		crc ^= uint16(v)
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0xA001
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}
