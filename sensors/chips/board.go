package chips

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// Board is an I²C bus of a Linux board. It is safe for concurrent use. When the adapter goes away (a
// USB one unplugged) it is opened again at the next transaction.
//
// It speaks to the kernel itself: periph's own Linux bus keeps only the text of an errno and leaves
// the adapter's timeout alone.
type Board struct {
	path string
	sys  string

	mu      sync.Mutex
	adapter adapter // nil after the adapter went away
}

// sysI2C is where the kernel lists the I²C devices.
const sysI2C = "/sys/bus/i2c/devices"

// adapter is an open device file.
type adapter interface {
	transfer(addr uint16, w, r []byte) error
	io.Closer
}

var _ i2c.BusCloser = (*Board)(nil)

// OpenBoard opens a bus by its device file, "/dev/i2c-1". sys is where the kernel lists the I²C
// devices, "" for /sys/bus/i2c/devices.
func OpenBoard(path, sys string) (*Board, error) {
	if _, err := busNumber(path); err != nil {
		return nil, err
	}
	if sys == "" {
		sys = sysI2C
	}
	b := &Board{path: path, sys: sys}
	if err := b.ready(); err != nil {
		return nil, err
	}
	return b, nil
}

// busNumber returns the 1 of "/dev/i2c-1".
func busNumber(path string) (int, error) {
	digits, ok := strings.CutPrefix(filepath.Base(path), "i2c-")
	n, err := strconv.Atoi(digits)
	if !ok || err != nil || n < 0 {
		return 0, fmt.Errorf("open I²C bus %q: want the path of a device file such as /dev/i2c-1", path)
	}
	return n, nil
}

// ready opens the device file if need be.
func (b *Board) ready() error {
	if b.adapter != nil {
		return nil
	}
	a, err := openAdapter(b.path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("open I²C bus: %w; enable the bus in the board's settings", err)
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("open I²C bus: %w; add this user to the group that owns the file", err)
	case err != nil:
		return fmt.Errorf("open I²C bus %s: %w", b.path, err)
	}
	b.adapter = a
	return nil
}

// String returns the path of the bus.
func (b *Board) String() string { return b.path }

// SetSpeed is left to the board's settings; the kernel offers no call for it.
func (b *Board) SetSpeed(physic.Frequency) error {
	return fmt.Errorf("set speed of %s: set it in the board's settings instead", b.path)
}

// Tx makes one transaction. Its error wraps the errno.
func (b *Board) Tx(addr uint16, w, r []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.ready(); err != nil {
		return err
	}
	err := b.adapter.transfer(addr, w, r)
	if err == nil {
		return nil
	}
	if errors.Is(err, syscall.ENODEV) || errors.Is(err, syscall.EBADF) {
		err = errors.Join(err, b.adapter.Close())
		b.adapter = nil
	}
	return fmt.Errorf("transfer with %#x on %s: %w", addr, b.path, err)
}

// Close closes the bus.
func (b *Board) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.adapter == nil {
		return nil
	}
	err := b.adapter.Close()
	b.adapter = nil
	return err
}

// Owner returns the name of the kernel driver that owns the chip at an address, "" for none.
func (b *Board) Owner(addr uint16) string {
	n, err := busNumber(b.path)
	if err != nil {
		return ""
	}
	return DriverOf(b.sys, n, addr)
}

// DriverOf returns the name of the kernel driver that owns the chip at an address of a numbered bus,
// "" for none, from the kernel's list of I²C devices in the folder sys.
func DriverOf(sys string, bus int, addr uint16) string {
	link, err := os.Readlink(filepath.Join(sys, fmt.Sprintf("%d-%04x", bus, addr), "driver"))
	if err != nil {
		return ""
	}
	return filepath.Base(link)
}

// unowned returns an error for a chip that belongs to a kernel driver. The kernel does not keep a
// second master off the way used here, and two of them spoil each other's measurements.
func unowned(bus i2c.Bus, addr uint16) error {
	o, ok := bus.(interface{ Owner(addr uint16) string })
	if !ok {
		return nil
	}
	if name := o.Owner(addr); name != "" {
		return fmt.Errorf("open chip at %#x on %s: the kernel driver %q owns it; read it as a kernel probe, or unbind that driver", addr, bus, name)
	}
	return nil
}
