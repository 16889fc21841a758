package simulated

import (
	"sync"
	"time"
)

// SCD4x is a simulated carbon dioxide chip that also measures humidity and temperature (Sensirion
// SCD4x, version 1.3). It warms itself and subtracts a temperature offset.
type SCD4x struct {
	fault
	serial uint64
	air    func() Air

	mu     sync.Mutex // guards what follows
	out    reply
	frame  []byte
	start  time.Time // of the measurements; zero while it rests
	read   int64     // how many of them there were at the last read
	deaf   time.Time // until then it answers nothing: it has been told to stop
	offset uint16    // 175 °C are 65535
}

// Commands of SCD4x.
const (
	scdStart     = 0x21B1
	scdRead      = 0xEC05
	scdStop      = 0x3F86
	scdReady     = 0xE4B8
	scdSerial    = 0x3682
	scdOffset    = 0x2318
	scdSetOffset = 0x241D
	scdRestart   = 0x3646
	scdWake      = 0x36F6

	scdPeriod     = 5 * time.Second
	scdStops      = 500 * time.Millisecond
	scdFourKelvin = 0x05DA // the offset it is delivered with
	scdSelfHeat   = 4.0    // °C, what that offset makes up for
	scdPPM        = 600    // of carbon dioxide, always
)

// NewSCD4x returns a chip with a serial number of 48 bits, in the air that a function tells whenever it
// measures.
func NewSCD4x(serial uint64, air func() Air) *SCD4x {
	return &SCD4x{serial: serial, air: air, offset: scdFourKelvin}
}

// SetFrame makes every measurement answer these nine bytes instead of the air's; nil ends that.
func (c *SCD4x) SetFrame(b []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.frame = b
}

// SetOffset sets the temperature offset, in units of 175 °C / 65535.
func (c *SCD4x) SetOffset(raw uint16) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.offset = raw
}

// Offset returns the temperature offset, in units of 175 °C / 65535.
func (c *SCD4x) Offset() uint16 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.offset
}

// LosePower resets the chip, as a short drop of its supply does: it rests until it is told to start.
func (c *SCD4x) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reset()
}

func (c *SCD4x) reset() {
	c.out, c.start, c.read, c.deaf, c.offset = reply{}, time.Time{}, 0, time.Time{}, scdFourKelvin
}

func (c *SCD4x) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if time.Now().Before(c.deaf) {
		return eREMOTEIO
	}
	if c.trouble() == BrownOut && c.count() > c.read {
		c.reset()
	}
	if len(w) >= 2 && !c.command(uint16(w[0])<<8|uint16(w[1]), w[2:]) {
		return eREMOTEIO
	}
	if len(r) == 0 {
		return nil
	}
	return c.out.give(r)
}

// command takes a command word; while it measures most are refused.
func (c *SCD4x) command(word uint16, data []byte) bool {
	c.out = reply{}
	switch word {
	case scdStop:
		c.start, c.deaf = time.Time{}, time.Now().Add(scdStops)
		return true
	case scdReady:
		c.out.set(0, words(c.ready()))
		return true
	case scdRead:
		c.measurement()
		return true
	}
	return c.start.IsZero() && c.resting(word, data)
}

// resting takes the commands that are accepted only while the chip does not measure.
func (c *SCD4x) resting(word uint16, data []byte) bool {
	switch word {
	case scdStart:
		c.start, c.read = time.Now(), 0
	case scdSerial:
		c.out.set(0, words(uint16(c.serial>>32), uint16(c.serial>>16), uint16(c.serial)))
	case scdOffset:
		c.out.set(0, words(c.offset))
	case scdSetOffset:
		if len(data) != 3 || crc8(data[:2]) != data[2] {
			return false
		}
		c.offset = uint16(data[0])<<8 | uint16(data[1])
	case scdRestart:
		c.reset()
	case scdWake:
	default:
		return false
	}
	return true
}

// count returns how many measurements there have been since the start.
func (c *SCD4x) count() int64 {
	if c.start.IsZero() || c.trouble() == Busy {
		return 0
	}
	return int64(time.Since(c.start) / scdPeriod)
}

// ready returns the status word: its lower eleven bits are zero when there is nothing new.
func (c *SCD4x) ready() uint16 {
	if c.count() > c.read {
		return 0x8006
	}
	return 0x8000
}

func (c *SCD4x) measurement() {
	n := c.count()
	if n <= c.read {
		return
	}
	c.read = n
	if c.frame != nil {
		c.out.set(0, append([]byte(nil), c.frame...))
		return
	}
	a := c.air()
	t := a.TempC + scdSelfHeat - 175*float64(c.offset)/65535
	c.out.set(0, words(scdPPM, counts16((t+45)/175), counts16(a.Humidity)))
}
