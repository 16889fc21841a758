package simulated

import (
	"encoding/binary"
	"math"
	"sync"
	"time"
)

// TMP102 is a simulated thermometer (Texas Instruments SBOS397): registers, conversion times and
// power-on state as in its data sheet. It sends no checksum and has no number of its own.
type TMP102 struct {
	fault
	temp func() float64

	mu      sync.Mutex // guards what follows
	reg     [4]uint16
	ptr     byte
	started time.Time
	raw     *uint16
}

// Registers of TMP102.
const (
	tmpTemp   = 0
	tmpConfig = 1
	tmpLow    = 2
	tmpHigh   = 3

	tmpPowerOn  = 0x60A0
	tmpReadOnly = 0x6020 // resolution and alert bits
	tmpShutdown = 0x0100
	tmpExtended = 0x0010
	tmpTakes    = 26 * time.Millisecond
)

// NewTMP102 returns a chip whose temperature in °C a function tells whenever it is read.
func NewTMP102(tempC func() float64) *TMP102 {
	c := &TMP102{temp: tempC}
	c.reset()
	c.started = time.Time{}
	return c
}

// SetRaw makes the temperature register read this; nil ends that.
func (c *TMP102) SetRaw(raw *uint16) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.raw = raw
}

// SetExtended switches the chip to its 13-bit format, as another program may have done.
func (c *TMP102) SetExtended() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reg[tmpConfig] |= tmpExtended
}

// LosePower resets the chip, as a short drop of its supply does: it reads 0 °C until its first
// conversion is done.
func (c *TMP102) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reset()
}

func (c *TMP102) reset() {
	c.reg = [4]uint16{tmpConfig: tmpPowerOn, tmpLow: 0x4B00, tmpHigh: 0x5000}
	c.ptr, c.started = 0, time.Now()
}

func (c *TMP102) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(w) > 0 {
		c.ptr = w[0] & 3
	}
	if len(w) == 3 {
		c.write(binary.BigEndian.Uint16(w[1:]))
	}
	if len(r) == 0 {
		return nil
	}
	if c.ptr == tmpTemp {
		c.convert()
	}
	copy(r, binary.BigEndian.AppendUint16(nil, c.reg[c.ptr]))
	return nil
}

func (c *TMP102) write(v uint16) {
	switch c.ptr {
	case tmpTemp:
	case tmpConfig:
		if c.reg[tmpConfig]&tmpShutdown != 0 && v&tmpShutdown == 0 {
			c.started = time.Now()
		}
		c.reg[tmpConfig] = v&^(tmpReadOnly|0x800F) | c.reg[tmpConfig]&tmpReadOnly
	default:
		c.reg[c.ptr] = v
	}
}

// convert renews the temperature register if a conversion has been done since the start.
func (c *TMP102) convert() {
	if c.trouble() == BrownOut {
		c.reset()
	}
	if c.reg[tmpConfig]&tmpShutdown != 0 || time.Since(c.started) < tmpTakes {
		return
	}
	if c.raw != nil {
		c.reg[tmpTemp] = *c.raw
		return
	}
	sixteenths := int16(math.Round(c.temp() * 16))
	if c.reg[tmpConfig]&tmpExtended != 0 {
		c.reg[tmpTemp] = uint16(sixteenths)<<3 | 1
		return
	}
	c.reg[tmpTemp] = uint16(min(sixteenths, 0x7FF)) << 4
}
