package simulated

import (
	"fmt"
	"sync"
	"syscall"
)

// Trouble is what is wrong with a simulated chip or bus.
type Trouble uint8

// The kinds of trouble. Those that only one kind of bus or chip can have say so; elsewhere they do nothing.
const (
	None     Trouble = iota
	Nack             // I²C: the address is not acknowledged (EREMOTEIO)
	Gone             // nothing there any more: I²C answers ENXIO, 1-wire keeps silent
	Zeros            // every byte reads 0x00, as on a data line shorted to ground
	Ones             // every byte reads 0xFF, as on a data line that nobody drives
	Flips            // one bit of every block read is wrong
	Hang             // the call does not return until the trouble ends
	TimedOut         // I²C: the adapter gives up (ETIMEDOUT), as when a chip holds the clock
	Busy             // the measurement never ends (not MCP9808 and TMP102, which do not say)
	BrownOut         // it restarts each time it measures
	Weak             // DS18B20: the supply breaks down while it converts, so it shows 127.94 °C
	Shorted          // 1-wire: the bridge sees the line held low
	troubles
)

// String names the trouble.
func (t Trouble) String() string {
	names := [troubles]string{"none", "nack", "gone", "zeros", "ones", "flips", "hang", "timed out",
		"busy", "brown-out", "weak supply", "shorted"}
	if t < troubles {
		return names[t]
	}
	return fmt.Sprintf("trouble(%d)", uint8(t))
}

// eREMOTEIO is what several Linux I²C adapters answer for a missing acknowledge; package syscall has
// it on Linux only.
const eREMOTEIO = syscall.Errno(121)

// fault is the switch for a trouble. The zero fault is none.
type fault struct {
	mu      sync.Mutex
	is      Trouble
	changed chan struct{} // closed when is changes; nil until someone waits
}

// Break gives the chip or bus a trouble, [None] to mend it. Calls that hang return when it changes.
func (f *fault) Break(t Trouble) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.is = t
	if f.changed != nil {
		close(f.changed)
		f.changed = nil
	}
}

func (f *fault) trouble() Trouble {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.is
}

// hang blocks for as long as the trouble is [Hang].
func (f *fault) hang() {
	for {
		f.mu.Lock()
		if f.is != Hang {
			f.mu.Unlock()
			return
		}
		if f.changed == nil {
			f.changed = make(chan struct{})
		}
		changed := f.changed
		f.mu.Unlock()
		<-changed
	}
}

// spoil applies a trouble to bytes that were read.
func spoil(t Trouble, r []byte) {
	switch t {
	case Zeros:
		clear(r)
	case Ones:
		for i := range r {
			r[i] = 0xFF
		}
	case Flips:
		if len(r) > 0 {
			r[0] ^= 0x08
		}
	}
}
