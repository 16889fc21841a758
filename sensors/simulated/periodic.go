package simulated

import (
	"sync"
	"time"
)

// Commands that SHT3x (Sensirion SHT3x-DIS, chapter 4) and HDC302x (Texas Instruments SNAS778,
// "Command table") have in common.
const (
	wordMeasure       = 0x2400 // once, best repeatability, the read not acknowledged until it is done
	wordMeasureMedium = 0x240B
	wordMeasureLow    = 0x2416
	wordFetch         = 0xE000
	wordStop          = 0x3093
	wordRestart       = 0x30A2
	wordHeaterOn      = 0x306D
	wordHeaterOff     = 0x3066
	wordClearStatus   = 0x3041
	wordStatus        = 0xF32D

	statusHeater    = 1 << 13
	statusRestarted = 1 << 4
)

// periods are the commands for measurements that repeat.
func periods() map[uint16]time.Duration {
	return map[uint16]time.Duration{
		0x2032: 2 * time.Second, 0x2130: time.Second, 0x2236: time.Second / 2, 0x2334: time.Second / 4, 0x2737: time.Second / 10,
	}
}

// periodic is a chip that takes 16-bit commands and measures once or again and again.
type periodic struct {
	fault
	air  func() Air
	took map[uint16]time.Duration // how long each measuring command takes
	own  func(command uint16) []byte

	mu     sync.Mutex // guards what follows
	out    reply
	frame  []byte        // set: every measurement answers this instead of the air
	every  time.Duration // between measurements that repeat; 0: it rests
	start  time.Time     // of the repeating
	read   int64         // how many of them there were at the last read
	status uint16
}

// SetFrame makes every measurement answer these six bytes instead of the air's; nil ends that.
func (c *periodic) SetFrame(b []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.frame = b
}

// LosePower resets the chip, as a short drop of its supply does: measurements that repeat have ended.
func (c *periodic) LosePower() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reset()
}

// Heats reports whether the heater is on.
func (c *periodic) Heats() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.status&statusHeater != 0
}

func (c *periodic) reset() {
	c.out, c.every, c.read, c.status = reply{}, 0, 0, statusRestarted
}

func (c *periodic) exchange(w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(w) > 0 {
		if len(w) < 2 {
			return eREMOTEIO
		}
		if err := c.command(uint16(w[0])<<8 | uint16(w[1])); err != nil {
			return err
		}
	}
	if len(r) == 0 {
		return nil
	}
	return c.out.give(r)
}

func (c *periodic) command(word uint16) error {
	c.out = reply{}
	if took, ok := c.took[word]; ok {
		return c.measure(took)
	}
	if every, ok := periods()[word]; ok {
		c.every, c.start, c.read = every, time.Now(), 0
		if c.trouble() == BrownOut {
			c.reset()
		}
		return nil
	}
	switch word {
	case wordFetch:
		c.fetch()
	case wordStop:
		c.every = 0
	case wordRestart:
		c.reset()
	case wordHeaterOn:
		c.status |= statusHeater
	case wordHeaterOff:
		c.status &^= statusHeater
	case wordClearStatus:
		c.status &= statusHeater
	case wordStatus:
		c.out.set(0, words(c.status))
	default:
		b := c.own(word)
		if b == nil {
			return eREMOTEIO
		}
		c.out.set(0, b)
	}
	return nil
}

// measure makes one measurement; while they repeat the command is refused.
func (c *periodic) measure(took time.Duration) error {
	if c.every != 0 {
		return eREMOTEIO
	}
	switch c.trouble() {
	case BrownOut:
		c.reset()
	case Busy:
	default:
		c.out.set(took, c.sample())
	}
	return nil
}

// fetch gives the newest of the repeated measurements, each once.
func (c *periodic) fetch() {
	if c.every == 0 || c.trouble() == Busy {
		return
	}
	n := int64((time.Since(c.start)-c.took[wordMeasure])/c.every) + 1
	if time.Since(c.start) < c.took[wordMeasure] || n == c.read {
		return
	}
	c.read = n
	c.out.set(0, c.sample())
}

func (c *periodic) sample() []byte {
	if c.frame != nil {
		return append([]byte(nil), c.frame...)
	}
	a := c.air()
	return words(counts16((a.TempC+45+c.heat())/175), counts16(a.Humidity))
}

// heat is by how much the heater warms the chip, °C (invented).
func (c *periodic) heat() float64 {
	if c.status&statusHeater != 0 {
		return 30
	}
	return 0
}
