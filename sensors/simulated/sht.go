package simulated

import (
	"sync"
	"time"
)

// SHT3x is a simulated humidity and temperature chip of Sensirion's third generation: commands, waits
// and checksums as in its data sheet (SHT3x-DIS, version 5).
type SHT3x struct{ periodic }

// Commands of SHT3x for its serial number, with and without holding the clock.
const (
	shtSerialHeld = 0x3780
	shtSerial     = 0x3682
)

// NewSHT3x returns a chip with a serial number, in the air that a function tells whenever it measures.
func NewSHT3x(serial uint32, air func() Air) *SHT3x {
	c := &SHT3x{periodic{
		air: air,
		took: map[uint16]time.Duration{
			wordMeasure: 15500 * time.Microsecond, wordMeasureMedium: 6500 * time.Microsecond, wordMeasureLow: 4500 * time.Microsecond,
		},
		own: func(command uint16) []byte {
			if command != shtSerial && command != shtSerialHeld {
				return nil
			}
			return words(uint16(serial>>16), uint16(serial))
		},
	}}
	c.reset()
	return c
}

// SHT4x is a simulated humidity and temperature chip of Sensirion's fourth generation: one-byte
// commands, waits and checksums as in its data sheet.
type SHT4x struct {
	fault
	serial uint32
	air    func() Air

	mu    sync.Mutex // guards what follows
	out   reply
	frame []byte
}

// Commands of SHT4x.
const (
	sht4Serial  = 0x89
	sht4Restart = 0x94
)

// NewSHT4x returns a chip with a serial number, in the air that a function tells whenever it measures.
func NewSHT4x(serial uint32, air func() Air) *SHT4x { return &SHT4x{serial: serial, air: air} }

// SetFrame makes every measurement answer these six bytes instead of the air's; nil ends that.
func (c *SHT4x) SetFrame(b []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.frame = b
}

// LosePower resets the chip, as a short drop of its supply does.
func (c *SHT4x) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.out = reply{}
}

func (c *SHT4x) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(w) > 0 && !c.command(w) {
		return eREMOTEIO
	}
	if len(r) == 0 {
		return nil
	}
	return c.out.give(r)
}

// command takes the one byte that this chip's commands have.
func (c *SHT4x) command(w []byte) bool {
	c.out = reply{}
	if len(w) != 1 {
		return false
	}
	if took := sht4Takes(w[0]); took > 0 {
		c.measure(took)
		return true
	}
	switch w[0] {
	case sht4Serial:
		c.out.set(time.Millisecond, words(uint16(c.serial>>16), uint16(c.serial)))
	case sht4Restart:
	default:
		return false
	}
	return true
}

// sht4Takes returns how long a measuring command takes, 0 for another command.
func sht4Takes(command byte) time.Duration {
	switch command {
	case 0xFD:
		return 8300 * time.Microsecond
	case 0xF6:
		return 4500 * time.Microsecond
	case 0xE0:
		return 1700 * time.Microsecond
	}
	return 0
}

func (c *SHT4x) measure(took time.Duration) {
	if t := c.trouble(); t == BrownOut || t == Busy {
		return
	}
	if c.frame != nil {
		c.out.set(took, append([]byte(nil), c.frame...))
		return
	}
	a := c.air()
	c.out.set(took, words(counts16((a.TempC+45)/175), counts16((100*a.Humidity+6)/125)))
}
