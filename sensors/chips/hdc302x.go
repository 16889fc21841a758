package chips

import (
	"context"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/hdc302x"

	"pourward/sensors"
)

// Commands and codes of the chip (Texas Instruments SNAS778, "Command table" and "Status register").
const (
	hdcStop   = 0x3093
	hdcIsTI   = 0x3000
	hdcHeater = 1 << 13

	// hdcBudget bounds the transactions of one measurement; a sound chip needs six, its opening nine.
	hdcBudget = 16
)

// HDC302x opens an HDC3020, HDC3021 or HDC3022 at 0x44 to 0x47. One measurement takes 0.1 s; then the
// chip sleeps, which spares it the heat of measuring on and on.
//
// The driver (hdc302x v3.7.4) knows the chip's repeated measurements only and fails for ever after the
// chip lost its supply while they ran. So they are started and stopped around each measurement.
func HDC302x(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, kind{
		name:    "HDC302x",
		addrs:   []uint16{0x44, 0x45, 0x46, 0x47},
		budget:  hdcBudget,
		inspect: inspectWords,
		// A chip that does not measure repeatedly may refuse to stop.
		forgives: func(w []byte, err error) bool {
			return len(w) == 2 && word(w) == hdcStop && kindOf(err) == sensors.NoResponse
		},
		open: openHDC302x,
	})
}

func openHDC302x(ctx context.Context, g *i2cGuard, addr uint16) (device, error) {
	c := hdc{&i2c.Dev{Bus: g, Addr: addr}}
	if err := c.prepare(ctx); err != nil {
		return device{}, err
	}
	dev, err := hdc302x.NewI2C(g, addr, hdc302x.Rate10Hertz)
	if err != nil {
		return device{}, err
	}
	if err := dev.Halt(); err != nil {
		return device{}, err
	}
	sense := func(context.Context) (sensors.Sample, error) {
		var e physic.Env
		if err := dev.Sense(&e); err != nil {
			return sensors.Sample{}, err
		}
		return sampleOf(e, true), dev.Halt()
	}
	return device{sense: sense, id: c.serial}, nil
}

// hdc is what the driver does not offer.
type hdc struct{ *i2c.Dev }

// prepare ends what another program may have set going and makes sure what chip this is: SHT3x takes
// the same commands at the same addresses.
func (c hdc) prepare(ctx context.Context) error {
	_ = c.Tx([]byte{hdcStop >> 8, hdcStop & 0xFF}, nil) // refused when there is nothing to stop
	if err := pause(ctx, time.Millisecond); err != nil {
		return err
	}
	maker, err := c.word(0x37, 0x81)
	if err != nil {
		return err
	}
	if maker != hdcIsTI {
		return fmt.Errorf("this is no HDC302x: its manufacturer is %#x, not %#x", maker, hdcIsTI)
	}
	status, err := c.word(0xF3, 0x2D)
	if err != nil || status&hdcHeater == 0 {
		return err
	}
	return c.Tx([]byte{0x30, 0x66}, nil) // heater off
}

func (c hdc) word(command ...byte) (uint16, error) {
	r := make([]byte, 3)
	err := c.Tx(command, r)
	return word(r), err
}

// serial returns the chip's number of 48 bits.
func (c hdc) serial() (string, error) {
	var number string
	for command := byte(0x83); command <= 0x85; command++ {
		part, err := c.word(0x36, command)
		if err != nil {
			return "", err
		}
		number += fmt.Sprintf("%04X", part)
	}
	return number, nil
}
