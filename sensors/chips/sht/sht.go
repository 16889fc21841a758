// Package sht drives the humidity and temperature chips SHT3x and SHT4x of Sensirion over I²C.
//
// It keeps the contract of periph.io's device drivers. Each measurement is a single shot without clock
// stretching, and both checksums are looked at.
package sht

import (
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// Model is a generation of the chip.
type Model uint8

// The generations; their commands and their humidity scales differ.
const (
	SHT3x Model = iota // SHT30, SHT31, SHT35 (data sheet SHT3x-DIS), at 0x44 or 0x45
	SHT4x              // SHT40, SHT41, SHT45 (data sheet SHT4x), at 0x44, 0x45 or 0x46
)

// String names the generation.
func (m Model) String() string {
	if m == SHT4x {
		return "SHT4x"
	}
	return "SHT3x"
}

// Repeatability is how quiet a measurement is to be; a quieter one takes longer.
type Repeatability uint8

// The choices, with the longest time a measurement takes (SHT3x-DIS table 4, SHT4x table 5).
const (
	High   Repeatability = iota // SHT3x 15.5 ms, SHT4x 8.3 ms
	Medium                      // 6.5 ms, 4.5 ms
	Low                         // 4.5 ms, 1.7 ms
)

// Opts says which chip it is and how it shall measure. The zero Opts are an SHT3x at its quietest.
type Opts struct {
	Model         Model
	Repeatability Repeatability
}

// ErrChecksum says that a word of an answer does not match its checksum.
var ErrChecksum = errors.New("checksum does not match")

// Dev is a chip. It is not safe for concurrent use.
type Dev struct {
	bus    i2c.Dev
	model  Model
	shot   command
	serial *uint32 // nil when the chip does not tell it
}

var _ physic.SenseEnv = (*Dev)(nil)

// command is what is sent to the chip and how long to wait before its answer is read.
type command struct {
	send []byte
	wait time.Duration
}

// shots are the single-shot commands by repeatability (SHT3x-DIS table 9, SHT4x table 8).
func shots(m Model) [3]command {
	if m == SHT4x {
		return [3]command{{[]byte{0xFD}, 8300 * time.Microsecond}, {[]byte{0xF6}, 4500 * time.Microsecond}, {[]byte{0xE0}, 1700 * time.Microsecond}}
	}
	return [3]command{{[]byte{0x24, 0x00}, 15500 * time.Microsecond}, {[]byte{0x24, 0x0B}, 6500 * time.Microsecond}, {[]byte{0x24, 0x16}, 4500 * time.Microsecond}}
}

// settle is added to every wait: what a board's clock and the chip's may disagree by.
const settle = time.Millisecond

// NewI2C opens a chip: it ends what another program may have set going, the heater included, and makes
// sure that such a chip answers. opts nil stands for the zero Opts.
func NewI2C(b i2c.Bus, addr uint16, opts *Opts) (*Dev, error) {
	if opts == nil {
		opts = &Opts{}
	}
	if opts.Model > SHT4x || opts.Repeatability > Low {
		return nil, fmt.Errorf("sht: open chip at %#x: there is no model %d with repeatability %d", addr, opts.Model, opts.Repeatability)
	}
	d := &Dev{bus: i2c.Dev{Bus: b, Addr: addr}, model: opts.Model, shot: shots(opts.Model)[opts.Repeatability]}
	if !d.canHave(addr) {
		return nil, fmt.Errorf("sht: open %s: it cannot have the address %#x", d.model, addr)
	}
	if err := d.rest(); err != nil {
		return nil, fmt.Errorf("sht: bring %s to rest: %w", d, err)
	}
	if err := d.know(); err != nil {
		return nil, fmt.Errorf("sht: ask %s what it is: %w", d, err)
	}
	return d, nil
}

func (d *Dev) canHave(addr uint16) bool {
	return addr == 0x44 || addr == 0x45 || addr == 0x46 && d.model == SHT4x
}

// rest brings the chip to rest, heater off.
func (d *Dev) rest() error {
	if d.model == SHT4x {
		return d.tell(0x94) // soft reset, which ends a heater pulse, too
	}
	// A chip that does not measure repeatedly may refuse to stop; one that is not there refuses the
	// next command as well.
	_ = d.tell(0x30, 0x93)
	return d.tell(0x30, 0x66) // heater off
}

func (d *Dev) tell(command ...byte) error {
	err := d.bus.Tx(command, nil)
	time.Sleep(time.Millisecond + settle)
	return err
}

// know reads the serial number. The data sheet of SHT3x does not mention it, so one that does not tell
// it is known by its status register.
func (d *Dev) know() error {
	serial, err := d.ReadSerial()
	if err == nil {
		d.serial = &serial
		return nil
	}
	if d.model == SHT4x || errors.Is(err, ErrChecksum) {
		return err
	}
	var r [3]byte
	if err := d.bus.Tx([]byte{0xF3, 0x2D}, r[:]); err != nil {
		return err
	}
	if Checksum(r[:2]) != r[2] {
		return fmt.Errorf("status % X: %w", r, ErrChecksum)
	}
	return nil
}

// Serial returns the serial number that was read when the chip was opened, and whether it told one.
func (d *Dev) Serial() (number uint32, told bool) {
	if d.serial == nil {
		return 0, false
	}
	return *d.serial, true
}

// ReadSerial asks the chip for its serial number.
func (d *Dev) ReadSerial() (uint32, error) {
	ask := command{[]byte{0x36, 0x82}, time.Millisecond}
	if d.model == SHT4x {
		ask = command{[]byte{0x89}, time.Millisecond}
	}
	high, low, err := d.words(ask)
	if err != nil {
		return 0, fmt.Errorf("read serial number: %w", err)
	}
	return uint32(high)<<16 | uint32(low), nil
}

// words sends a command and reads the two words of its answer.
func (d *Dev) words(c command) (first, second uint16, err error) {
	if err := d.bus.Tx(c.send, nil); err != nil {
		return 0, 0, err
	}
	time.Sleep(c.wait + settle)
	var r [6]byte
	if err := d.bus.Tx(nil, r[:]); err != nil {
		return 0, 0, err
	}
	if Checksum(r[:2]) != r[2] || Checksum(r[3:5]) != r[5] {
		return 0, 0, fmt.Errorf("answer % X: %w", r, ErrChecksum)
	}
	return uint16(r[0])<<8 | uint16(r[1]), uint16(r[3])<<8 | uint16(r[4]), nil
}

// Sense measures once; e is set on success only. Pressure stays as it is.
func (d *Dev) Sense(e *physic.Env) error {
	t, h, err := d.words(d.shot)
	if err != nil {
		return fmt.Errorf("sht: measure with %s: %w", d, err)
	}
	e.Temperature, e.Humidity = temperature(t), d.humidity(h)
	return nil
}

// temperature is −45 °C + 175 °C · raw/65535 (SHT3x-DIS 4.13, SHT4x 4.6), rounded down to a nanokelvin.
func temperature(raw uint16) physic.Temperature {
	return physic.ZeroCelsius - 45*physic.Kelvin + physic.Temperature(int64(raw)*int64(175*physic.Kelvin)/65535)
}

// humidity is 100 % · raw/65535 for SHT3x and −6 % + 125 % · raw/65535, cut off at 0 and 100 %, for
// SHT4x (same sections).
func (d *Dev) humidity(raw uint16) physic.RelativeHumidity {
	if d.model == SHT3x {
		return physic.RelativeHumidity(int64(raw) * int64(100*physic.PercentRH) / 65535)
	}
	rh := physic.RelativeHumidity(int64(raw)*int64(125*physic.PercentRH)/65535) - 6*physic.PercentRH
	return max(0, min(rh, 100*physic.PercentRH))
}

// SenseContinuous is not offered: a caller that measures at its own pace sees every error.
func (d *Dev) SenseContinuous(time.Duration) (<-chan physic.Env, error) {
	return nil, fmt.Errorf("sht: sense continuously with %s: not offered; call Sense at each interval", d)
}

// Precision tells the steps of the chip's numbers.
func (d *Dev) Precision(e *physic.Env) {
	e.Temperature = 175 * physic.Kelvin / 65535
	e.Humidity = 100 * physic.PercentRH / 65535
	if d.model == SHT4x {
		e.Humidity = 125 * physic.PercentRH / 65535
	}
	e.Pressure = 0
}

// Halt does nothing: the chip sleeps by itself after each measurement.
func (d *Dev) Halt() error { return nil }

// String tells the model and where it is.
func (d *Dev) String() string { return fmt.Sprintf("%s{%s}", d.model, d.bus.String()) }

// Checksum is the CRC-8 of the chips' words: polynomial 0x31, started from 0xFF, nothing reflected
// (SHT3x-DIS table 20).
func Checksum(b []byte) byte {
	crc := byte(0xFF)
	for _, v := range b {
		crc ^= v
		for range 8 {
			if crc&0x80 != 0 {
				crc = crc<<1 ^ 0x31
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}
