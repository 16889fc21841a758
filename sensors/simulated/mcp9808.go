package simulated

import (
	"encoding/binary"
	"math"
	"sync"
	"time"
)

// MCP9808 is a simulated thermometer (Microchip DS25095): registers, conversion times, flags and
// power-on state as in its data sheet. It sends no checksum.
type MCP9808 struct {
	fault
	temp func() float64

	mu      sync.Mutex // guards what follows
	reg     [8]uint16
	res     byte
	ptr     byte
	started time.Time // of converting
	raw     *uint16
}

// Registers of MCP9808.
const (
	mcpConfig       = 1
	mcpUpper        = 2
	mcpLower        = 3
	mcpCritical     = 4
	mcpTemp         = 5
	mcpManufacturer = 6
	mcpDevice       = 7
	mcpResolution   = 8

	mcpShutdown   = 0x0100
	mcpFinest     = 3 // 1/16 °C
	mcpIsMicro    = 0x0054
	mcpIsMCP9808  = 0x0400
	mcpFlags      = 0xE000
	mcpValue      = 0x1FFF
	mcpAlertValue = 0x1FFC
)

// NewMCP9808 returns a chip whose temperature in °C a function tells whenever it is read.
func NewMCP9808(tempC func() float64) *MCP9808 {
	c := &MCP9808{temp: tempC}
	c.reset()
	c.started = time.Time{}
	return c
}

// SetRaw makes the temperature register read this; nil ends that.
func (c *MCP9808) SetRaw(raw *uint16) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.raw = raw
}

// LosePower resets the chip, as a short drop of its supply does: it reads 0 °C until its first
// conversion is done.
func (c *MCP9808) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reset()
}

func (c *MCP9808) reset() {
	c.reg = [8]uint16{mcpManufacturer: mcpIsMicro, mcpDevice: mcpIsMCP9808}
	c.res, c.ptr, c.started = mcpFinest, 0, time.Now()
}

func (c *MCP9808) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(w) > 0 {
		c.ptr = w[0] & 0x0F
	}
	c.write(w)
	if len(r) == 0 {
		return nil
	}
	if c.ptr == mcpTemp {
		c.convert()
	}
	copy(r, c.content())
	return nil
}

func (c *MCP9808) content() []byte {
	switch {
	case c.ptr == mcpResolution:
		return []byte{c.res, c.res}
	case int(c.ptr) < len(c.reg):
		return binary.BigEndian.AppendUint16(nil, c.reg[c.ptr])
	}
	return []byte{0, 0}
}

func (c *MCP9808) write(w []byte) {
	switch {
	case len(w) == 2 && c.ptr == mcpResolution:
		c.res = w[1] & 3
	case len(w) == 3 && c.ptr == mcpConfig:
		v := binary.BigEndian.Uint16(w[1:]) & 0x07FF
		if c.reg[mcpConfig]&mcpShutdown != 0 && v&mcpShutdown == 0 {
			c.started = time.Now()
		}
		c.reg[mcpConfig] = v
	case len(w) == 3 && c.ptr >= mcpUpper && c.ptr <= mcpCritical:
		c.reg[c.ptr] = binary.BigEndian.Uint16(w[1:]) & mcpAlertValue
	}
}

// convert renews the temperature register if a conversion has been done since the start.
func (c *MCP9808) convert() {
	if c.trouble() == BrownOut {
		c.reset()
	}
	took := [...]time.Duration{30 * time.Millisecond, 65 * time.Millisecond, 130 * time.Millisecond, 250 * time.Millisecond}[c.res]
	if c.reg[mcpConfig]&mcpShutdown != 0 || time.Since(c.started) < took {
		return
	}
	if c.raw != nil {
		c.reg[mcpTemp] = *c.raw
		return
	}
	sixteenths := int16(math.Floor(c.temp()*16)) &^ (1<<(mcpFinest-c.res) - 1)
	c.reg[mcpTemp] = uint16(sixteenths)&mcpValue | c.flags(sixteenths)
}

// flags compares the temperature with the three limits.
func (c *MCP9808) flags(sixteenths int16) uint16 {
	limit := func(reg int) int16 { return int16(c.reg[reg]<<3) >> 3 } // 13 bits with sign
	var f uint16
	if sixteenths >= limit(mcpCritical) {
		f |= 0x8000
	}
	if sixteenths > limit(mcpUpper) {
		f |= 0x4000
	}
	if sixteenths < limit(mcpLower) {
		f |= 0x2000
	}
	return f & mcpFlags
}
