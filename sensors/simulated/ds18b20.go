package simulated

import (
	"encoding/binary"
	"math"
	"sync"
	"time"

	"periph.io/x/conn/v3/onewire"

	"pourward/sensors"
)

// DS18B20 is a simulated 1-wire thermometer: scratchpad, conversion time and power-on state as in its
// data sheet (Maxim 19-7487).
type DS18B20 struct {
	fault
	rom  onewire.Address
	temp func() float64

	mu       sync.Mutex // guards what follows
	pad      [8]byte    // scratchpad without its checksum
	eeprom   [3]byte    // TH, TL, configuration
	copies   int
	next     int16     // result of the conversion under way
	finished time.Time // when it is there; zero when none is under way
	sending  bool      // the scratchpad was asked for
	clock    sensors.Clock
}

// Function commands (data sheet, "DS18B20 function commands").
const (
	cmdConvert = 0x44
	cmdRead    = 0xBE
	cmdWrite   = 0x4E
	cmdCopy    = 0x48
	cmdRecall  = 0xB8
)

const (
	powerOnRaw = 0x0550 // 85 °C
	weakRaw    = 0x07FF // 127.9375 °C
)

// NewDS18B20 returns a chip whose temperature in °C a function tells whenever a conversion starts.
// Make its address with [ROM].
func NewDS18B20(rom onewire.Address, tempC func() float64) *DS18B20 {
	c := &DS18B20{rom: rom, temp: tempC, eeprom: [3]byte{0x4B, 0x46, 0x7F}}
	c.powerOn()
	return c
}

// ROM returns the address of a DS18B20 with a serial number of 48 bits.
func ROM(serial uint64) onewire.Address {
	a := serial<<8&0x00FFFFFFFFFFFF00 | 0x28
	var b [8]byte
	binary.LittleEndian.PutUint64(b[:], a)
	b[7] = onewire.CalcCRC(b[:7])
	return onewire.Address(binary.LittleEndian.Uint64(b[:]))
}

func romBytes(a onewire.Address) []byte { return binary.LittleEndian.AppendUint64(nil, uint64(a)) }

// Address returns the chip's ROM.
func (c *DS18B20) Address() onewire.Address { return c.rom }

// LosePower resets the chip to its power-on state.
func (c *DS18B20) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.powerOn()
}

// Copies returns how often the configuration was written to the EEPROM.
func (c *DS18B20) Copies() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.copies
}

// SetBits sets the resolution kept in the EEPROM, 9 to 12 bits, and restarts the chip.
func (c *DS18B20) SetBits(bits int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.eeprom[2] = byte(bits-9)<<5 | 0x1F
	c.powerOn()
}

func (c *DS18B20) powerOn() {
	c.pad = [8]byte{powerOnRaw & 0xFF, powerOnRaw >> 8, c.eeprom[0], c.eeprom[1], c.eeprom[2], 0xFF, 0x0C, 0x10}
	c.finished = time.Time{}
}

// bits returns the resolution.
func (c *DS18B20) bits() int { return int(c.pad[4]>>5&3) + 9 }

// conversion returns how long one takes: 93.75 ms at 9 bits, doubling with each bit.
func (c *DS18B20) conversion() time.Duration { return 93750 * time.Microsecond << (c.bits() - 9) }

// command takes the bytes sent so far after the ROM command; it acts when they are complete.
func (c *DS18B20) command(sent []byte, clock sensors.Clock) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.clock = clock
	c.sending = false
	switch {
	case sent[0] == cmdConvert && len(sent) == 1:
		c.next, c.finished = c.convert(), clock.Now().Add(c.conversion())
	case sent[0] == cmdRead && len(sent) == 1:
		c.settle()
		c.sending = true
	case sent[0] == cmdWrite && len(sent) == 4:
		copy(c.pad[2:5], sent[1:4])
	case sent[0] == cmdCopy && len(sent) == 1:
		copy(c.eeprom[:], c.pad[2:5])
		c.copies++
	case sent[0] == cmdRecall && len(sent) == 1:
		copy(c.pad[2:5], c.eeprom[:])
	}
}

// convert returns the raw temperature, 1/16 °C, its undefined low bits zero.
func (c *DS18B20) convert() int16 {
	raw := int16(math.Round(max(-55, min(125, c.temp())) * 16))
	return raw &^ (1<<(12-c.bits()) - 1)
}

// settle moves the result of a conversion into the scratchpad once it is there.
func (c *DS18B20) settle() {
	if c.finished.IsZero() || c.clock.Now().Before(c.finished) {
		return
	}
	c.finished = time.Time{}
	switch c.trouble() {
	case BrownOut:
		c.powerOn()
		return
	case Weak:
		c.show(weakRaw)
		c.pad[6] = 0x0C
		return
	}
	c.show(c.next)
}

func (c *DS18B20) show(raw int16) {
	binary.LittleEndian.PutUint16(c.pad[:], uint16(raw))
	c.pad[6] = 0x10 - c.pad[0]&0x0F
}

// sends returns byte i of what the chip sends; it keeps the line high when it sends nothing.
func (c *DS18B20) sends(i int) byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.sending || i > 8 {
		return 0xFF
	}
	full := append(c.pad[:], onewire.CalcCRC(c.pad[:]))
	t := c.trouble()
	if t == Flips && i != 0 {
		t = None
	}
	spoil(t, full[i:i+1])
	return full[i]
}
