package sensors

import (
	"context"
	"errors"
	"fmt"
)

// Fault is why a value is missing or not trusted. The list is closed: it is a label on metrics and a
// number in the record, so do not reorder; add at the end.
type Fault uint8

const (
	NoFault     Fault = iota
	NoResponse        // nothing answered at the address, or the file is gone
	BusError          // the bus itself failed: stuck, shorted, arbitration lost
	BadChecksum       // the bytes do not match their checksum
	Timeout           // the measurement did not end in time
	PowerOn           // the chip answered with its power-on or error code instead of a measurement
	OutOfRange        // outside what the probe can measure
	Jumped            // away from its neighbors in time further than air can move
	Stuck             // the same value for longer than air stays the same
	Malformed         // text or bytes that cannot be understood
	Unsure            // first value after a fault, not confirmed yet
	OtherFault        // an error of no kind above
	faultCount
)

var faultNames = [faultCount]string{"none", "no-response", "bus", "checksum", "timeout", "power-on",
	"out-of-range", "jumped", "stuck", "malformed", "unsure", "other"}

// String names the fault in the form used for labels.
func (f Fault) String() string {
	if f < faultCount {
		return faultNames[f]
	}
	return fmt.Sprintf("fault(%d)", uint8(f))
}

// Faults lists every fault that can be counted, [NoFault] left out.
func Faults() []Fault {
	out := make([]Fault, 0, faultCount-1)
	for f := NoResponse; f < faultCount; f++ {
		out = append(out, f)
	}
	return out
}

// FaultError is an error of a known kind. It wraps the cause, so errors.Is still finds an errno.
type FaultError struct {
	Fault Fault
	Doing string // what was tried, on what
	Cause error  // nil when the value itself is the evidence
}

func (e *FaultError) Error() string {
	if e.Cause == nil {
		return fmt.Sprintf("%s: %s", e.Doing, e.Fault)
	}
	return fmt.Sprintf("%s: %s: %v", e.Doing, e.Fault, e.Cause)
}

func (e *FaultError) Unwrap() error { return e.Cause }

// FaultOf returns the kind of err: the one a [FaultError] in its chain names, [Timeout] for an expired
// context, [OtherFault] for any other error and [NoFault] for nil.
func FaultOf(err error) Fault {
	if err == nil {
		return NoFault
	}
	var fe *FaultError
	switch {
	case errors.As(err, &fe):
		return fe.Fault
	case errors.Is(err, context.DeadlineExceeded):
		return Timeout
	}
	return OtherFault
}
