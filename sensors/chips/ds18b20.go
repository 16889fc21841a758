package chips

import (
	"context"
	"math"
	"time"

	"periph.io/x/conn/v3/onewire"
	"periph.io/x/devices/v3/ds18b20"

	"pourward/sensors"
)

const (
	resolution = 12 // bits, always: setting another would wear the chip's EEPROM at each opening
	wireBudget = 16 // transactions of one measurement; a sound chip needs two, its opening three

	cmdRead    = 0xBE
	powerOnRaw = 0x0550 // 85 °C
	weakRaw    = 0x07FF // 127.9375 °C
	unmeasured = 0x0C   // byte 6 of the scratchpad while its temperature is no measurement
)

// DS18B20 opens the thermometer with a ROM address on this bus.
func (w *Wire) DS18B20(rom onewire.Address) sensors.Opener {
	return func(ctx context.Context) (sensors.Probe, error) {
		p := &thermometer{wire: w, rom: rom, used: w.clock.Now()}
		p.guard = &wireGuard{bus: w, inspect: p.inspect}
		p.guard.begin(ctx, wireBudget)
		dev, err := ds18b20.New(p.guard, rom, resolution)
		if err := p.guard.result(err); err != nil {
			return nil, faulty(err, "open DS18B20 %016x on %s", uint64(rom), w)
		}
		p.dev = dev
		return p, nil
	}
}

type thermometer struct {
	wire  *Wire
	rom   onewire.Address
	guard *wireGuard
	dev   *ds18b20.Dev
	used  time.Time // begin of the conversion last used; conversions before the opening do not count
	sense bool      // a conversion has been made, so the power-on value is no answer any more
}

// Sense measures once; it takes 0.75 s on the wire's clock if a conversion has to be made. The
// sample's instant is the start of the conversion.
func (p *thermometer) Sense(ctx context.Context) (sensors.Sample, error) {
	p.guard.begin(ctx, wireBudget)
	p.sense = true
	at, err := p.wire.convert(ctx, p.guard, p.used)
	if err != nil {
		return sensors.Sample{}, faulty(p.guard.result(err), "start conversion for DS18B20 %016x on %s", uint64(p.rom), p.wire)
	}
	p.used = at
	t, err := p.dev.LastTemp()
	if err := p.guard.result(err); err != nil {
		return sensors.Sample{}, faulty(err, "read DS18B20 %016x on %s", uint64(p.rom), p.wire)
	}
	return sensors.Sample{TempC: t.Celsius(), Humidity: math.NaN(), At: at}, nil
}

// Close leaves the chip as it is; it sleeps by itself.
func (p *thermometer) Close() error { return nil }

// inspect looks at the scratchpad. Without it the driver takes zeros for 0 °C (their checksum is zero,
// too) and the codes of a failed conversion for temperatures.
func (p *thermometer) inspect(w, r []byte) error {
	if len(w) == 0 || w[len(w)-1] != cmdRead || len(r) != 9 {
		return nil
	}
	if err := dead("scratchpad", r); err != nil {
		return err
	}
	if !onewire.CheckCRC(r) {
		return found(sensors.BadChecksum, "scratchpad % X", r)
	}
	raw := uint16(r[1])<<8 | uint16(r[0])
	switch {
	case !p.sense:
	case raw == powerOnRaw && r[6] == unmeasured:
		return found(sensors.PowerOn, "the chip restarted while it converted (scratchpad % X): check its supply and the pull-up resistor", r)
	case raw == weakRaw:
		return found(sensors.PowerOn, "the chip's supply broke down while it converted (scratchpad % X): power it by three wires or strengthen the pull-up", r)
	}
	return nil
}
