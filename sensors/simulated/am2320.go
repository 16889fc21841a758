package simulated

import (
	"encoding/binary"
	"math"
	"sync"
	"time"
)

// AM2320 is a simulated humidity and temperature chip (Aosong AM2320, product manual). It sleeps until
// it is addressed, which it does not acknowledge; it needs a pause before its answer is read; and what
// it answers was measured after the answer before.
type AM2320 struct {
	fault
	air func() Air

	mu          sync.Mutex // guards what follows
	complement  bool
	stretches   bool
	powered     time.Time // since when it has been powered
	awake       time.Time // when it woke up; zero while it sleeps
	asked       time.Time // when the registers were asked for; zero when they were not
	shows       Air       // what the registers hold
	next        Air       // what they will hold
	nextReady   time.Time
	humidity    []byte // set: registers for humidity and temperature instead of the air's
	temperature []byte
}

const (
	amUnstable = 2 * time.Second // after power-on it must be left alone
	amWakes    = 800 * time.Microsecond
	amAwake    = 3 * time.Second // then it falls asleep again
	amAnswers  = 1500 * time.Microsecond
	amMeasures = 2 * time.Second // between measurements

	amRead = 0x03
)

// NewAM2320 returns a chip in the air that a function tells whenever it measures. It has been powered
// for long.
func NewAM2320(air func() Air) *AM2320 {
	a := air()
	return &AM2320{air: air, shows: a, next: a}
}

// SetComplement makes the chip send negative temperatures in two's complement, as some chips of the
// family do against their manual (adafruit/DHT-sensor-library issue 182).
func (c *AM2320) SetComplement(on bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.complement = on
}

// SetStretching makes the adapter wait when the chip holds the clock, so that its answer can be read at
// once.
func (c *AM2320) SetStretching(on bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.stretches = on
}

// SetRegisters makes the chip send these registers, two bytes each, instead of what it measures; nil
// ends that.
func (c *AM2320) SetRegisters(humidity, temperature []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.humidity, c.temperature = humidity, temperature
}

// LosePower restarts the chip: it measures once and answers again after two seconds.
func (c *AM2320) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reset()
}

func (c *AM2320) reset() {
	a := c.air()
	c.powered, c.awake, c.asked = time.Now(), time.Time{}, time.Time{}
	c.shows, c.next, c.nextReady = a, a, time.Time{}
}

func (c *AM2320) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := time.Now()
	if now.Sub(c.powered) < amUnstable {
		return eREMOTEIO
	}
	if c.awake.IsZero() || now.Sub(c.awake) > amAwake {
		c.awake, c.asked = now, time.Time{}
		return eREMOTEIO
	}
	if now.Sub(c.awake) < amWakes {
		return eREMOTEIO
	}
	if len(w) == 3 && w[0] == amRead && w[1] == 0 && w[2] == 4 {
		c.asked = now
		if c.trouble() == BrownOut {
			c.reset()
			return nil
		}
	}
	if len(r) > 0 {
		c.answer(now, len(w) > 0, r)
	}
	return nil
}

// answer sends the registers and starts the next measurement. Asked too early the chip holds the clock,
// for which not every adapter waits.
func (c *AM2320) answer(now time.Time, atOnce bool, r []byte) {
	for i := range r {
		r[i] = 0xFF
	}
	early := now.Sub(c.asked) < amAnswers && !(atOnce && c.stretches)
	if c.asked.IsZero() || early || c.trouble() == Busy {
		return
	}
	if !now.Before(c.nextReady) {
		c.shows = c.next
		c.next, c.nextReady = c.air(), now.Add(amMeasures)
	}
	copy(r, c.full())
	c.asked, c.awake = time.Time{}, time.Time{}
}

// full returns the answer with its checksum, low byte first.
func (c *AM2320) full() []byte {
	b := []byte{amRead, 4}
	b = binary.BigEndian.AppendUint16(b, uint16(math.Round(c.shows.Humidity*1000)))
	b = binary.BigEndian.AppendUint16(b, c.signed(math.Round(c.shows.TempC*10)))
	if c.humidity != nil {
		b = append(append(b[:2], c.humidity...), c.temperature...)
	}
	return binary.LittleEndian.AppendUint16(b, crcModbus(b))
}

// signed returns tenths of a degree with the sign in the highest bit.
func (c *AM2320) signed(tenths float64) uint16 {
	switch {
	case tenths >= 0:
		return uint16(tenths)
	case c.complement:
		return uint16(int16(tenths))
	}
	return 0x8000 | uint16(-tenths)
}

// crcModbus is the checksum of the Modbus protocol (Modbus over serial line, version 1.02, 6.2.2).
func crcModbus(b []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, v := range b {
		crc ^= uint16(v)
		for range 8 {
			low := crc&1 != 0
			crc >>= 1
			if low {
				crc ^= 0xA001
			}
		}
	}
	return crc
}
