package simulated

import (
	"errors"
	"slices"
	"sync"

	"periph.io/x/conn/v3/onewire"

	"pourward/sensors"
)

// Line is a simulated 1-wire bus, with or without a [Bridge] before it. It is safe for concurrent use.
type Line struct {
	fault
	clock sensors.Clock

	mu     sync.Mutex // one transaction at a time, held while one hangs
	chips  []*DS18B20
	sent   []byte // bytes the master wrote since the last reset
	picked []*DS18B20
	search []*DS18B20 // chips that still follow a search
	bit    int        // of the ROM in a search
	read   int        // bytes read since the last reset
}

var _ onewire.Bus = (*Line)(nil)

// NewLine returns an empty line; conversions of its chips take their time by the clock.
func NewLine(clock sensors.Clock) *Line { return &Line{clock: clock} }

// Attach puts chips on the line.
func (l *Line) Attach(chips ...*DS18B20) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.chips = append(l.chips, chips...)
}

// String names the line.
func (l *Line) String() string { return "simulated 1-wire" }

// lineError is an error as a 1-wire master reports it.
type lineError struct {
	text            string
	silent, shorted bool
}

func (e *lineError) Error() string   { return e.text }
func (e *lineError) NoDevices() bool { return e.silent }
func (e *lineError) IsShorted() bool { return e.shorted }
func (e *lineError) BusError() bool  { return true }

// Tx makes one transaction: reset, write, read.
func (l *Line) Tx(w, r []byte, _ onewire.Pullup) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.hang()
	present, short := l.reset()
	switch {
	case short:
		return &lineError{text: "simulated 1-wire: line is shorted", shorted: true}
	case !present:
		return &lineError{text: "simulated 1-wire: no device present", silent: true}
	}
	for _, b := range w {
		l.write(b)
	}
	for i := range r {
		r[i] = l.readByte()
	}
	return nil
}

// Search returns the addresses of the chips that answer.
func (l *Line) Search(alarmOnly bool) ([]onewire.Address, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.hang()
	if present, _ := l.reset(); !present {
		return nil, &lineError{text: "simulated 1-wire: no device present", silent: true}
	}
	if alarmOnly {
		return nil, errors.New("simulated 1-wire: alarm search is not simulated")
	}
	var found []onewire.Address
	for _, c := range l.chips {
		if c.trouble() != Gone {
			found = append(found, c.rom)
		}
	}
	return found, nil
}

// reset starts a transaction and reports a presence pulse and a short. Data lines stuck at zeros or
// ones are not told apart here: some masters do not notice.
func (l *Line) reset() (present, short bool) {
	l.sent, l.picked, l.search, l.bit, l.read = nil, nil, nil, 0, 0
	present = slices.ContainsFunc(l.chips, func(c *DS18B20) bool { return c.trouble() != Gone })
	return present && l.trouble() != Gone, l.trouble() == Shorted
}

// ROM commands (DS18B20 data sheet, "ROM commands").
const (
	romSkip   = 0xCC
	romMatch  = 0x55
	romSearch = 0xF0
)

// write takes one byte from the master: first a ROM command, then a function command with its data.
func (l *Line) write(b byte) {
	l.sent = append(l.sent, b)
	switch {
	case l.sent[0] == romSkip && len(l.sent) == 1:
		l.pick(func(*DS18B20) bool { return true })
	case l.sent[0] == romSearch && len(l.sent) == 1:
		l.pick(func(*DS18B20) bool { return true })
		l.search = l.picked
	case l.sent[0] == romMatch && len(l.sent) == 9:
		l.pick(func(c *DS18B20) bool { return slices.Equal(romBytes(c.rom), l.sent[1:9]) })
	default:
		l.function()
	}
}

func (l *Line) pick(which func(*DS18B20) bool) {
	l.picked = nil
	for _, c := range l.chips {
		if which(c) && c.trouble() != Gone {
			l.picked = append(l.picked, c)
		}
	}
}

// function hands what follows the ROM command to the picked chips.
func (l *Line) function() {
	start := 1
	if l.sent[0] == romMatch {
		start = 9
	}
	if len(l.sent) <= start {
		return
	}
	for _, c := range l.picked {
		c.command(l.sent[start:], l.clock)
	}
}

// readByte gives the master one byte: the chips that send together pull the line low together.
func (l *Line) readByte() byte {
	b := byte(0xFF)
	for _, c := range l.picked {
		b &= c.sends(l.read)
	}
	got := []byte{b}
	t := l.trouble()
	if t != Flips || l.read == 0 {
		spoil(t, got)
	}
	l.read++
	return got[0]
}

// triplet is one step of a search: two bits read, one written (Maxim application note 187).
func (l *Line) triplet(want byte) onewire.TripletResult {
	var r onewire.TripletResult
	for _, c := range l.search {
		one := c.rom>>l.bit&1 == 1
		r.GotOne, r.GotZero = r.GotOne || one, r.GotZero || !one
	}
	switch {
	case r.GotOne && r.GotZero:
		r.Taken = want
	case r.GotOne || len(l.search) == 0:
		r.Taken = 1
	}
	l.search = slices.DeleteFunc(slices.Clone(l.search), func(c *DS18B20) bool { return byte(c.rom>>l.bit&1) != r.Taken })
	l.bit++
	return r
}
