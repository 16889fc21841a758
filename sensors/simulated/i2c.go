package simulated

import (
	"fmt"
	"sync"
	"syscall"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// Chip is what can sit on a [Bus].
type Chip interface {
	// Break gives the chip a trouble, [None] to mend it.
	Break(Trouble)
	// exchange is one transaction: what the master wrote, then what it wants to read.
	exchange(w, r []byte) error
	trouble() Trouble
	hang()
}

// Bus is a simulated I²C bus. It is safe for concurrent use.
type Bus struct {
	fault
	name   string
	serial sync.Mutex // one transaction at a time, held while one hangs
	chips  map[uint16]Chip
	count  int
}

var _ i2c.Bus = (*Bus)(nil)

// NewBus returns an empty bus; name appears in messages.
func NewBus(name string) *Bus { return &Bus{name: name, chips: map[uint16]Chip{}} }

// Attach puts a chip, or the [Bridge] to a 1-wire line, on the bus at an address.
func (b *Bus) Attach(addr uint16, c Chip) {
	b.serial.Lock()
	defer b.serial.Unlock()
	b.chips[addr] = c
}

// Swap exchanges what is at two addresses, as when two probes are plugged in again in each other's
// place: both lose their power meanwhile.
func (b *Bus) Swap(one, other uint16) {
	b.serial.Lock()
	defer b.serial.Unlock()
	b.chips[one], b.chips[other] = b.chips[other], b.chips[one]
	for _, c := range [...]Chip{b.chips[one], b.chips[other]} {
		if c, ok := c.(interface{ LosePower() }); ok {
			c.LosePower()
		}
	}
}

// Transactions returns how many there were so far.
func (b *Bus) Transactions() int {
	b.serial.Lock()
	defer b.serial.Unlock()
	return b.count
}

// String returns the name of the bus.
func (b *Bus) String() string { return b.name }

// SetSpeed accepts every speed.
func (b *Bus) SetSpeed(physic.Frequency) error { return nil }

// Tx makes one transaction. Its errors wrap an errno, in the form a Linux adapter has them.
func (b *Bus) Tx(addr uint16, w, r []byte) error {
	b.serial.Lock()
	defer b.serial.Unlock()
	b.count++
	c := b.chips[addr]
	if c == nil {
		return fmt.Errorf("%s: %w", b.name, eREMOTEIO)
	}
	for _, t := range [...]interface {
		trouble() Trouble
		hang()
	}{b, c} {
		t.hang()
		if errno := refusal(t.trouble()); errno != 0 {
			return fmt.Errorf("%s: %w", b.name, errno)
		}
	}
	if err := c.exchange(w, r); err != nil {
		return fmt.Errorf("%s: %w", b.name, err)
	}
	spoil(c.trouble(), r)
	spoil(b.trouble(), r)
	return nil
}

func refusal(t Trouble) syscall.Errno {
	switch t {
	case Nack:
		return eREMOTEIO
	case Gone:
		return syscall.ENXIO
	case TimedOut:
		return syscall.ETIMEDOUT
	}
	return 0
}
