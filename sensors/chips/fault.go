package chips

import (
	"errors"
	"fmt"
	"strings"
	"syscall"

	"periph.io/x/conn/v3/onewire"

	"pourward/sensors"
)

// eREMOTEIO is what several Linux I²C adapters answer for a missing acknowledge; package syscall has
// it on Linux only.
const eREMOTEIO = syscall.Errno(121)

// kindOf returns the kind of a bus error (Linux kernel documentation, i2c/fault-codes).
func kindOf(err error) sensors.Fault {
	var errno syscall.Errno
	if errors.As(err, &errno) {
		return kindOfErrno(errno)
	}
	if f := sensors.FaultOf(err); f != sensors.OtherFault {
		return f
	}
	var silent onewire.NoDevicesError
	var bus onewire.BusError
	var short onewire.ShortedBusError
	switch {
	case errors.As(err, &silent) && silent.NoDevices():
		return sensors.NoResponse
	case errors.As(err, &short) && short.IsShorted():
		return sensors.BusError
	case errors.As(err, &bus) && bus.BusError():
		// The bridge's driver has no type for a line without presence pulse.
		if strings.Contains(err.Error(), "no device present") {
			return sensors.NoResponse
		}
		return sensors.BusError
	}
	return sensors.OtherFault
}

func kindOfErrno(errno syscall.Errno) sensors.Fault {
	switch errno {
	case syscall.ENXIO, eREMOTEIO, syscall.ENODEV, syscall.ENOENT:
		return sensors.NoResponse
	case syscall.ETIMEDOUT:
		return sensors.Timeout
	}
	return sensors.BusError
}

// faulty gives an error its kind and says what was tried. It keeps a [sensors.FaultError] as it is
// inside, so the first finding stays the one that counts.
func faulty(err error, format string, args ...any) error {
	if err == nil {
		return nil
	}
	return &sensors.FaultError{Fault: kindOf(err), Doing: fmt.Sprintf(format, args...), Cause: err}
}

// found is an error whose evidence is in the bytes.
func found(f sensors.Fault, format string, args ...any) error {
	return &sensors.FaultError{Fault: f, Doing: fmt.Sprintf(format, args...)}
}
