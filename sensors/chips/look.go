package chips

import (
	"context"
	"fmt"
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"

	"pourward/sensors"
	"pourward/sensors/chips/sht"
)

// Found is what answers at an address of a bus, or who keeps it from being asked.
type Found struct {
	Addr  uint16
	Kinds []string // what it can be, named as the functions that open it, or "bridge"; empty: unknown
	Sure  bool     // told by a number or checksum of its own, not by the address alone
	Owner string   // kernel driver that owns the address; nothing was asked then
	Note  string   // what was seen, what was not asked and why
	Err   error    // why it could not be asked
}

// String tells it in one line.
func (f Found) String() string {
	what := strings.Join(f.Kinds, " or ")
	switch {
	case f.Owner != "":
		return fmt.Sprintf("%#x  owned by the kernel driver %q; not asked", f.Addr, f.Owner)
	case f.Err != nil:
		return fmt.Sprintf("%#x  cannot be asked: %v", f.Addr, f.Err)
	case what == "":
		what = "unknown"
	case !f.Sure:
		what = "perhaps " + what
	}
	if f.Note != "" {
		what += "; " + f.Note
	}
	return fmt.Sprintf("%#x  %s", f.Addr, what)
}

// Look asks the addresses that the chips known here can have, and no others, what is there. sys is
// where the kernel lists the I²C devices, "" for /sys/bus/i2c/devices; addresses that a kernel driver
// owns, anywhere on the bus, are listed and not touched. It ends early with ctx.
//
// Only reads are made, and questions that no chip known to sit at that address takes for an order:
//   - 0x18 to 0x1F: registers of an MCP9808. A bridge to 1-wire refuses them; its status is read plainly.
//   - 0x38: a plain read. A question would set the outputs of an expander (PCF8574A).
//   - 0x44 to 0x47: serial and maker's numbers.
//   - 0x48 to 0x4B: a plain read. A question would switch the channel of a converter (PCF8591, ADS1115).
//   - 0x5C: plain reads, which wake an AM2320. A question would switch off a light meter (BH1750).
//   - 0x62: the state of an SCD4x, asked only if a plain read is refused, as an SCD4x does; an LED
//     driver there allows it.
//   - 0x76, 0x77: the chip id. A channel switch (TCA9548) there would change its channels; the kernel
//     usually owns those.
//
// Do not look while another program measures on the bus: between its command and its reading, a question
// of ours would replace the answer.
func Look(ctx context.Context, bus i2c.Bus, sys string) []Found {
	l := looker{ctx: ctx, bus: bus, owner: owners(bus, sys)}
	asks := questions()
	var all []Found
	for addr := uint16(0x03); addr <= 0x77 && ctx.Err() == nil; addr++ {
		if owner := l.owner(addr); owner != "" {
			all = append(all, Found{Addr: addr, Owner: owner})
			continue
		}
		ask, known := asks[addr]
		if !known {
			continue
		}
		f, err := ask(l, addr)
		switch {
		case err != nil && kindOf(err) != sensors.NoResponse:
			all = append(all, Found{Addr: addr, Err: faulty(err, "ask what is at %#x on %s", addr, bus)})
		case err == nil:
			f.Addr = addr
			all = append(all, f)
		}
	}
	return all
}

// owners returns who tells the kernel driver that owns an address of the bus.
func owners(bus i2c.Bus, sys string) func(addr uint16) string {
	if o, ok := bus.(interface{ Owner(addr uint16) string }); ok && sys == "" {
		return o.Owner
	}
	if sys == "" {
		sys = sysI2C
	}
	n, err := busNumber(bus.String())
	if err != nil {
		return func(uint16) string { return "" }
	}
	return func(addr uint16) string { return DriverOf(sys, n, addr) }
}

// looker asks. Its questions return an error of kind NoResponse when nobody is there.
type looker struct {
	ctx   context.Context
	bus   i2c.Bus
	owner func(addr uint16) string
}

type question func(l looker, addr uint16) (Found, error)

func questions() map[uint16]question {
	all := map[uint16]question{0x38: looker.at38, 0x5C: looker.at5C, 0x62: looker.at62, 0x76: looker.at76, 0x77: looker.at76}
	for addr := uint16(0x18); addr <= 0x1F; addr++ {
		all[addr] = looker.at18
	}
	for addr := uint16(0x44); addr <= 0x47; addr++ {
		all[addr] = looker.at44
	}
	for addr := uint16(0x48); addr <= 0x4B; addr++ {
		all[addr] = looker.at48
	}
	return all
}

// read makes a plain read, without a question before it.
func (l looker) read(addr uint16, n int) ([]byte, error) {
	r := make([]byte, n)
	return r, l.bus.Tx(addr, nil, r)
}

// ask sends a question and reads the answer, at once or after a pause.
func (l looker) ask(addr uint16, after time.Duration, n int, question ...byte) ([]byte, error) {
	r := make([]byte, n)
	if after == 0 {
		return r, l.bus.Tx(addr, question, r)
	}
	if err := l.bus.Tx(addr, question, nil); err != nil {
		return nil, err
	}
	if err := pause(l.ctx, after); err != nil {
		return nil, err
	}
	return r, l.bus.Tx(addr, nil, r)
}

func (l looker) at18(addr uint16) (Found, error) {
	status, err := l.read(addr, 1)
	if err != nil {
		return Found{}, err
	}
	maker, err := l.ask(addr, 0, 2, mcpManufacturer)
	if err == nil && word(maker) == mcpIsMicrochip {
		device, err := l.ask(addr, 0, 2, mcpDevice)
		if err == nil && device[0] == mcpIsMCP9808 {
			return Found{Kinds: []string{"MCP9808"}, Sure: true}, nil
		}
		return Found{Note: fmt.Sprintf("a chip of the maker of the MCP9808, device number % X", device)}, err
	}
	// After what it did last a bridge shows its status: idle, line high, no short (DS2482-100, "Status register").
	const busy, short, lineHigh, directions = 0x01, 0x04, 0x08, 0xE0
	if s := status[0]; s&(busy|short|directions) == 0 && s&lineHigh != 0 {
		return Found{Kinds: []string{"bridge"}, Note: fmt.Sprintf("status %#02x; its thermometers are found by a search", s)}, nil
	}
	return Found{Note: fmt.Sprintf("reads %#02x; no MCP9808, and no idle bridge", status[0])}, nil
}

func (l looker) at38(addr uint16) (Found, error) {
	r, err := l.read(addr, ahtFrame)
	if err != nil {
		return Found{}, err
	}
	if dead("frame", r) == nil && sht.Checksum(r[:6]) == r[6] {
		return Found{Kinds: []string{"AHT20"}, Sure: true}, nil
	}
	return Found{Kinds: []string{"AHT20"}, Note: "not asked further: an output expander at this address would act on it"}, nil
}

// at44 asks for numbers that only one kind each has.
func (l looker) at44(addr uint16) (Found, error) {
	const wait = 2 * time.Millisecond
	for _, q := range [...]struct {
		kind     string
		wait     time.Duration
		n        int
		question []byte
	}{
		{"SHT4x", wait, 6, []byte{0x89}},
		{"HDC302x", 0, 3, []byte{0x37, 0x81}},
		{"SHT3x", wait, 6, []byte{0x36, 0x82}},
		{"SHT3x", 0, 3, []byte{0xF3, 0x2D}}, // status, for those without serial number; HDC302x has it, too
	} {
		r, err := l.ask(addr, q.wait, q.n, q.question...)
		switch {
		case err != nil && kindOf(err) != sensors.NoResponse:
			return Found{}, err
		case err != nil || inspectWords(nil, r) != nil || q.kind == "HDC302x" && word(r) != hdcIsTI:
		default:
			return Found{Kinds: []string{q.kind}, Sure: true}, nil
		}
	}
	if _, err := l.read(addr, 1); err != nil {
		return Found{}, err
	}
	return Found{Note: "answers, but has no number of a chip known here"}, nil
}

func (l looker) at48(addr uint16) (Found, error) {
	r, err := l.read(addr, 2)
	if err != nil {
		return Found{}, err
	}
	const left = "not asked further: a converter at this address would switch its channel"
	if r[1]&0x0F != 0 {
		return Found{Note: fmt.Sprintf("reads % X, which is no temperature of a TMP102; %s", r, left)}, nil
	}
	return Found{Kinds: []string{"TMP102"}, Note: fmt.Sprintf("if so, it reads %.1f °C; %s", float64(int16(word(r)))/256, left)}, nil
}

// at5C reads twice: a sleeping AM2320 is woken by the first read and acknowledges the second.
func (l looker) at5C(addr uint16) (Found, error) {
	_, first := l.read(addr, 1)
	if err := pause(l.ctx, 2*time.Millisecond); err != nil {
		return Found{}, err
	}
	_, second := l.read(addr, 1)
	const left = "not asked further: a light meter at this address would take it for an order"
	switch {
	case second != nil:
		return Found{}, second
	case first != nil:
		return Found{Kinds: []string{"AM2320"}, Note: "had to be woken, as an AM2320; " + left}, nil
	}
	return Found{Note: "answers at once, as a light meter or an AM2320 that is awake; " + left}, nil
}

func (l looker) at62(addr uint16) (Found, error) {
	if _, err := l.read(addr, 1); err == nil {
		return Found{Note: "allows a plain read, which an SCD4x does not; an LED driver perhaps, not asked further"}, nil
	} else if kindOf(err) != sensors.NoResponse {
		return Found{}, err
	}
	r, err := l.ask(addr, time.Millisecond, 3, 0xE4, 0xB8)
	if err != nil {
		return Found{}, err
	}
	if inspectWords(nil, r) != nil {
		return Found{Note: fmt.Sprintf("answers % X, which no SCD4x does", r)}, nil
	}
	return Found{Kinds: []string{"SCD4x"}, Sure: true}, nil
}

func (l looker) at76(addr uint16) (Found, error) {
	r, err := l.ask(addr, 0, 1, regID)
	if err != nil {
		return Found{}, err
	}
	switch r[0] {
	case 0x60:
		return Found{Kinds: []string{"BME280"}, Sure: true}, nil
	case 0x58:
		return Found{Kinds: []string{"BME280"}, Sure: true, Note: "a BMP280: it measures the temperature only"}, nil
	case idBMP180:
		return Found{Note: "a BMP180, which is not supported"}, nil
	case 0x61:
		return Found{Note: "a BME680 or BME688, which is not supported here; the kernel has a driver for it"}, nil
	}
	return Found{Note: fmt.Sprintf("chip id %#02x is of no chip known here", r[0])}, nil
}
