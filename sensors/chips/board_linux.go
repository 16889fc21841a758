package chips

import (
	"fmt"
	"os"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Calls of the kernel's I²C device files (linux/i2c-dev.h, linux/i2c.h).
const (
	callTimeout   = 0x0702
	callFunctions = 0x0705
	callTransfer  = 0x0707

	functionI2C = 0x1    // plain I²C messages are possible
	flagRead    = 0x0001 // the message is read, not written

	timeoutUnits = 30 // of 10 ms: how long the adapter waits for a chip that holds the clock
)

// message is struct i2c_msg.
type message struct {
	addr   uint16
	flags  uint16
	length uint16
	buf    unsafe.Pointer
}

// transfer is struct i2c_rdwr_ioctl_data.
type transfer struct {
	messages unsafe.Pointer
	count    uint32
}

type deviceFile struct{ f *os.File }

func openAdapter(path string) (adapter, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	a := deviceFile{f}
	if err := a.prepare(); err != nil {
		f.Close()
		return nil, err
	}
	return a, nil
}

// prepare checks that the adapter can do plain transfers and bounds its patience.
func (a deviceFile) prepare() error {
	var functions uintptr
	if err := a.call(callFunctions, unsafe.Pointer(&functions)); err != nil {
		return fmt.Errorf("ask for the functions of the adapter: %w", err)
	}
	if functions&functionI2C == 0 {
		return fmt.Errorf("the adapter knows only SMBus commands: %w", unix.EOPNOTSUPP)
	}
	if err := unix.IoctlSetInt(int(a.f.Fd()), callTimeout, timeoutUnits); err != nil {
		return fmt.Errorf("set the timeout of the adapter: %w", err)
	}
	return nil
}

// transfer writes, then reads without giving up the bus in between.
func (a deviceFile) transfer(addr uint16, w, r []byte) error {
	var messages [2]message
	n := 0
	add := func(b []byte, flags uint16) {
		if len(b) > 0 {
			messages[n] = message{addr: addr, flags: flags, length: uint16(len(b)), buf: unsafe.Pointer(unsafe.SliceData(b))}
			n++
		}
	}
	add(w, 0)
	add(r, flagRead)
	if n == 0 {
		return nil
	}
	t := transfer{messages: unsafe.Pointer(&messages), count: uint32(n)}
	return a.call(callTransfer, unsafe.Pointer(&t))
}

func (a deviceFile) call(number uintptr, arg unsafe.Pointer) error {
	_, _, errno := unix.Syscall(unix.SYS_IOCTL, a.f.Fd(), number, uintptr(arg))
	runtime.KeepAlive(a.f)
	if errno != 0 {
		return errno
	}
	return nil
}

func (a deviceFile) Close() error { return a.f.Close() }
