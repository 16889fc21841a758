package simulated

import (
	"sync"
	"time"
)

// AHT20 is a simulated humidity and temperature chip (Aosong AHT20): status, frame and checksum as in
// its data sheet.
type AHT20 struct {
	fault
	air func() Air

	mu         sync.Mutex // guards what follows
	calibrated bool       // it has been told to load its calibration since power-on
	eager      bool       // it loads it by itself
	done       time.Time  // when the measurement under way ends
	data       [5]byte
	frame      []byte
}

// Commands and status bits of AHT20.
const (
	ahtStatus     = 0x71
	ahtInitialize = 0xBE
	ahtMeasure    = 0xAC
	ahtRestart    = 0xBA

	ahtBusy       = 0x80
	ahtCalibrated = 0x08
	ahtRest       = 0x10 // a reserved bit that is set in every frame published

	ahtTakes = 75 * time.Millisecond
)

// NewAHT20 returns a chip in the air that a function tells whenever it measures.
func NewAHT20(air func() Air) *AHT20 { return &AHT20{air: air} }

// SetFrame makes every measurement answer these seven bytes instead of the air's; nil ends that.
func (c *AHT20) SetFrame(b []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.frame = b
}

// SetEager makes the chip load its calibration by itself at power-on, as many do.
func (c *AHT20) SetEager(on bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.eager = on
}

// LosePower resets the chip, as a short drop of its supply does.
func (c *AHT20) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reset()
}

func (c *AHT20) reset() { c.calibrated, c.done, c.data = c.eager, time.Time{}, [5]byte{} }

func (c *AHT20) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(w) > 0 && !c.command(w) {
		return eREMOTEIO
	}
	full := append([]byte{c.status()}, c.data[:]...)
	full = append(full, crc8(full))
	if c.frame != nil && !c.busy() {
		full = c.frame
	}
	copy(r, full)
	return nil
}

func (c *AHT20) command(w []byte) bool {
	switch w[0] {
	case ahtStatus:
	case ahtInitialize:
		c.calibrated = true
	case ahtRestart:
		c.reset()
	case ahtMeasure:
		c.measure()
	default:
		return false
	}
	return true
}

func (c *AHT20) measure() {
	if c.trouble() == BrownOut {
		c.reset()
		return
	}
	c.done = time.Now().Add(ahtTakes)
	a := c.air()
	h, t := counts(a.Humidity, 1<<20, 20), counts((a.TempC+50)/200, 1<<20, 20)
	c.data = [5]byte{byte(h >> 12), byte(h >> 4), byte(h<<4) | byte(t>>16), byte(t >> 8), byte(t)}
}

func (c *AHT20) busy() bool { return time.Now().Before(c.done) || c.trouble() == Busy }

func (c *AHT20) status() byte {
	return ahtRest | flag(c.calibrated, ahtCalibrated) | flag(c.busy(), ahtBusy)
}
