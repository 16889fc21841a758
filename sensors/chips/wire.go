package chips

import (
	"context"
	"errors"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/devices/v3/ds18b20"
	"periph.io/x/devices/v3/ds248x"

	"pourward/sensors"
)

const (
	conversionTime = 752 * time.Millisecond // at 12 bits (data sheet: at most 750 ms)
	freshFor       = 10 * time.Second       // how long a conversion may serve the other probes of its round
)

// WireOpener opens a 1-wire bus; it is called again after the bus has failed.
type WireOpener func() (onewire.Bus, error)

// Direct is the WireOpener of a bus that is open already.
func Direct(bus onewire.Bus) WireOpener { return func() (onewire.Bus, error) { return bus, nil } }

// Bridge is the WireOpener of a DS2482-100, DS2482-800 (first channel) or DS2483 on an I²C bus, at
// address 0x18 or 0x19.
func Bridge(bus i2c.Bus, addr uint16) WireOpener {
	return func() (onewire.Bus, error) {
		if err := unowned(bus, addr); err != nil {
			return nil, err
		}
		kept := &keeper{Bus: bus}
		b, err := ds248x.New(kept, addr, &ds248x.DefaultOpts)
		if err == nil {
			return b, nil
		}
		if kept.last != nil {
			err = kept.last
		}
		return nil, faulty(err, "open 1-wire bridge at %#x on %s", addr, bus)
	}
}

// keeper remembers the last error of a bus, for drivers that pass on its text only.
type keeper struct {
	i2c.Bus
	last error
}

func (k *keeper) Tx(addr uint16, w, r []byte) error {
	k.last = k.Bus.Tx(addr, w, r)
	return k.last
}

// Wire is a 1-wire bus whose thermometers convert together: one conversion serves all that are asked
// in a round. It opens the bus when it is first used and again after it failed. All its probes belong
// to one [sensors.Poller].
type Wire struct {
	open    WireOpener
	clock   sensors.Clock
	bus     onewire.Bus // nil while closed
	started time.Time   // of the last conversion; zero when it must not be used
}

// NewWire returns a 1-wire bus. Conversions are waited for by the clock.
func NewWire(open WireOpener, clock sensors.Clock) *Wire { return &Wire{open: open, clock: clock} }

// String names the bus.
func (w *Wire) String() string {
	if w.bus == nil {
		return "1-wire"
	}
	return w.bus.String()
}

// Tx makes one transaction on the bus. After an error of the bus master itself the bus is opened
// afresh next time: the bridge's driver repeats such an error for ever.
func (w *Wire) Tx(out, in []byte, power onewire.Pullup) error {
	if err := w.ready(); err != nil {
		return err
	}
	err := w.bus.Tx(out, in, power)
	w.dropAfter(err)
	return err
}

// Search returns the addresses of the chips on the bus.
func (w *Wire) Search(alarmOnly bool) ([]onewire.Address, error) {
	if err := w.ready(); err != nil {
		return nil, err
	}
	addrs, err := w.bus.Search(alarmOnly)
	w.dropAfter(err)
	return addrs, faulty(err, "search %s for chips", w)
}

func (w *Wire) ready() (err error) {
	if w.bus == nil {
		w.bus, err = w.open()
	}
	return err
}

// dropAfter forgets the bus unless the error, if any, comes from the wire beyond it.
func (w *Wire) dropAfter(err error) {
	var beyond onewire.BusError
	var silent onewire.NoDevicesError
	if err != nil && !errors.As(err, &beyond) && !errors.As(err, &silent) {
		w.bus = nil
	}
}

// convert returns when the conversion began whose result the thermometers hold now. It starts one and
// waits for it, unless there is a recent one that began after the instant given.
func (w *Wire) convert(ctx context.Context, bus onewire.Bus, after time.Time) (time.Time, error) {
	now := w.clock.Now()
	if w.started.After(after) && now.Sub(w.started) < freshFor {
		return w.started, nil
	}
	w.started = time.Time{}
	if err := ds18b20.StartAll(bus); err != nil {
		return time.Time{}, err
	}
	if err := w.clock.Wait(ctx, now.Add(conversionTime)); err != nil {
		return time.Time{}, err
	}
	w.started = now
	return now, nil
}
