package simulated

import "sync"

// Bridge is a simulated DS2482-100, the I²C chip that masters a 1-wire line (Maxim 19-4930).
type Bridge struct {
	fault
	line *Line

	mu     sync.Mutex
	status byte
	config byte
	data   byte // last byte read from the line
	ptr    byte // register that the next read gives
}

// Commands and registers of the bridge (its data sheet, "Function commands").
const (
	bridgeReset     = 0xF0
	bridgePointer   = 0xE1
	bridgeConfigure = 0xD2
	lineReset       = 0xB4
	lineWrite       = 0xA5
	lineRead        = 0x96
	lineTriplet     = 0x78

	registerStatus = 0xF0
	registerData   = 0xE1
	registerConfig = 0xC3

	statusPresence = 0x02
	statusShort    = 0x04
	statusLevel    = 0x08
	statusRestart  = 0x10
)

// NewBridge returns a bridge to a line.
func NewBridge(line *Line) *Bridge {
	return &Bridge{line: line, status: statusRestart | statusLevel, ptr: registerStatus}
}

func (b *Bridge) exchange(w, r []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(w) > 0 && !b.command(w) {
		return eREMOTEIO // the chip does not acknowledge what it does not have
	}
	for i := range r {
		switch b.ptr {
		case registerStatus:
			r[i] = b.status
		case registerData:
			r[i] = b.data
		case registerConfig:
			r[i] = b.config
		}
	}
	return nil
}

func (b *Bridge) command(w []byte) bool {
	switch {
	case w[0] == bridgeReset:
		b.status, b.config, b.ptr = statusRestart|statusLevel, 0, registerStatus
	case w[0] == bridgePointer && len(w) == 2:
		if w[1] != registerStatus && w[1] != registerData && w[1] != registerConfig {
			return false
		}
		b.ptr = w[1]
	case w[0] == bridgeConfigure && len(w) == 2:
		b.status &^= statusRestart
		b.config, b.ptr = w[1]&0x0F, registerConfig
	default:
		return b.onLine(w)
	}
	return true
}

// onLine runs the commands that use the 1-wire line; the pointer goes to the status then.
func (b *Bridge) onLine(w []byte) bool {
	b.line.mu.Lock()
	defer b.line.mu.Unlock()
	b.line.hang()
	b.ptr = registerStatus
	switch {
	case w[0] == lineReset:
		present, short := b.line.reset()
		b.status = flag(present && !short, statusPresence) | flag(short, statusShort) | flag(!short, statusLevel)
	case w[0] == lineWrite && len(w) == 2:
		b.line.write(w[1])
	case w[0] == lineRead:
		b.data = b.line.readByte()
	case w[0] == lineTriplet && len(w) == 2:
		t := b.line.triplet(w[1] >> 7)
		b.status = statusLevel | flag(!t.GotZero, 0x20) | flag(!t.GotOne, 0x40) | t.Taken<<7
	default:
		return false
	}
	return true
}

func flag(on bool, bit byte) byte {
	if on {
		return bit
	}
	return 0
}
