package simulated

import (
	"encoding/binary"
	"sync"
)

// Air is what a chip is surrounded by.
type Air struct {
	TempC    float64 // °C
	Humidity float64 // relative humidity, ratio 0..1
}

// BME280 is a simulated humidity and temperature chip: register map, forced mode and compensation as
// in its data sheet (Bosch BST-BME280-DS002). Pressure always reads the same raw value.
type BME280 struct {
	fault
	air func() Air

	mu   sync.Mutex // guards what follows
	id   byte
	trim Trim
	reg  [256]byte
	ptr  byte
	raw  *Raw // set: these are measured instead of air
}

// Registers of the chip (data sheet, table 18).
const (
	regTrimLow  = 0x88
	regTrimH1   = 0xA1
	regID       = 0xD0
	regReset    = 0xE0
	regTrimHigh = 0xE1
	regCtrlHum  = 0xF2
	regStatus   = 0xF3
	regCtrlMeas = 0xF4
	regData     = 0xF7

	chipID         = 0x60
	chipIDBMP280   = 0x58 // BST-BMP280-DS001, 4.3.1
	resetWord      = 0xB6
	statusMeasures = 0x08
	skipped20      = 0x80000 // what a channel that was not measured reads: 20 bit
	skipped16      = 0x8000  // 16 bit
)

// Raw is one measurement as the converter delivers it.
type Raw struct {
	Pressure, Temp uint32 // 20 bit
	Humidity       uint16
}

// NewBME280 returns a chip in the air that a function tells whenever a measurement starts.
func NewBME280(air func() Air) *BME280 {
	c := &BME280{air: air, id: chipID, trim: defaultTrim}
	c.reset()
	return c
}

// NewBMP280 returns a chip of the same family that does not measure humidity.
func NewBMP280(air func() Air) *BME280 {
	c := NewBME280(air)
	c.id = chipIDBMP280
	c.reset()
	return c
}

// SetTrim gives the chip other calibration words.
func (c *BME280) SetTrim(t Trim) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.trim = t
	t.store(&c.reg)
}

// SetRaw makes every measurement deliver these values instead of the air's; nil ends that.
func (c *BME280) SetRaw(r *Raw) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.raw = r
}

// LosePower resets the chip, as a short drop of its supply does: it answers as before, but humidity
// is no longer measured until ctrl_hum is written again.
func (c *BME280) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reset()
}

func (c *BME280) reset() {
	c.reg, c.ptr = [256]byte{}, 0
	c.reg[regID] = c.id
	c.trim.store(&c.reg)
	c.store(Raw{Pressure: skipped20, Temp: skipped20, Humidity: skipped16})
}

func (c *BME280) store(r Raw) {
	d := c.reg[regData:]
	d[0], d[1], d[2] = byte(r.Pressure>>12), byte(r.Pressure>>4), byte(r.Pressure<<4)
	d[3], d[4], d[5] = byte(r.Temp>>12), byte(r.Temp>>4), byte(r.Temp<<4)
	binary.BigEndian.PutUint16(d[6:8], r.Humidity)
}

// exchange follows the chip's rule: a write is pairs of register and value, except that a lone byte
// sets the pointer; a read counts up from the pointer (data sheet, 6.2).
func (c *BME280) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	for ; len(w) >= 2; w = w[2:] {
		c.write(w[0], w[1])
	}
	if len(w) == 1 {
		c.ptr = w[0]
	}
	for i := range r {
		r[i] = c.reg[c.ptr]
		c.ptr++
	}
	return nil
}

func (c *BME280) write(reg, val byte) {
	switch reg {
	case regReset:
		if val == resetWord {
			c.reset()
		}
	case regCtrlMeas:
		c.reg[reg] = val
		c.measure()
	case regCtrlHum, regStatus + 2: // ctrl_hum and config
		c.reg[reg] = val
	}
}

// measure runs when a mode other than sleep is set; forced mode falls back to sleep.
func (c *BME280) measure() {
	mode := c.reg[regCtrlMeas] & 3
	if mode == 0 {
		return
	}
	switch c.trouble() {
	case Busy:
		c.reg[regStatus] |= statusMeasures
		return
	case BrownOut:
		c.reset()
		return
	}
	c.reg[regStatus] &^= statusMeasures
	r := c.convert()
	if c.reg[regCtrlMeas]>>5 == 0 {
		r.Temp = skipped20
	}
	if c.reg[regCtrlMeas]>>2&7 == 0 {
		r.Pressure = skipped20
	}
	if c.reg[regCtrlHum]&7 == 0 || c.id != chipID {
		r.Humidity = skipped16
	}
	c.store(r)
	if mode != 3 {
		c.reg[regCtrlMeas] &^= 3
	}
}

func (c *BME280) convert() Raw {
	if c.raw != nil {
		return *c.raw
	}
	return c.trim.Invert(c.air())
}
