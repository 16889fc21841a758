package chips

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/devices/v3/mcp9808"

	"pourward/sensors"
)

// Registers and codes of the chip (Microchip DS25095, chapter 5).
const (
	mcpTemp         = 5
	mcpManufacturer = 6
	mcpDevice       = 7
	mcpResolution   = 8

	mcpIsMicrochip = 0x0054
	mcpIsMCP9808   = 0x04 // high byte of the device register
	mcpEighths     = 2    // resolution of 1/8 °C; at power-on it is 3, 1/16 °C

	mcpTakes = 260 * time.Millisecond // a conversion at the resolution that was set before; at most 250 ms

	// mcpBudget bounds the transactions of one measurement; a sound chip needs four, its opening six.
	mcpBudget = 12
)

// MCP9808 opens an MCP9808 thermometer at 0x18 to 0x1F. It converts all the time; a measurement takes
// no time.
//
// The chip sends no checksum, and after a restart it reads 0 °C until its first conversion is done. So
// the temperature is read twice, other registers prove that the bus carries bytes at all, and the
// chip is set to a resolution of 1/8 °C, which is finer than it is accurate and which a restart undoes.
// The driver (mcp9808 v3.7.4) looks at none of this and replaces the cause of an error by a text of its
// own; the guard keeps the cause. The chip has no number: two that change places are not noticed.
func MCP9808(bus i2c.Bus, addr uint16) sensors.Opener {
	return opener(bus, addr, kind{
		name:    "MCP9808",
		addrs:   []uint16{0x18, 0x19, 0x1A, 0x1B, 0x1C, 0x1D, 0x1E, 0x1F},
		budget:  mcpBudget,
		below:   func(b i2c.Bus) i2c.Bus { return twice{b, func(w, _ []byte) bool { return w[0] != mcpTemp }} },
		inspect: inspectMCP9808,
		open:    openMCP9808,
	})
}

func openMCP9808(ctx context.Context, g *i2cGuard, addr uint16) (device, error) {
	c := &i2c.Dev{Bus: g, Addr: addr}
	known := func(reg byte, bytes int) error { return c.Tx([]byte{reg}, make([]byte, bytes)) }
	if err := errors.Join(known(mcpManufacturer, 2), known(mcpDevice, 2)); err != nil {
		return device{}, err
	}
	dev, err := mcp9808.New(g, &mcp9808.Opts{Addr: int(addr), Res: mcp9808.High})
	if err != nil {
		return device{}, err
	}
	if err := pause(ctx, mcpTakes); err != nil {
		return device{}, err
	}
	marked := func() error { return errors.Join(known(mcpManufacturer, 2), known(mcpResolution, 1)) }
	return device{sense: between(sensing(dev, false), marked)}, nil
}

// between measures, makes sure that the chip has not restarted and measures again: the two must agree.
func between(sense func(context.Context) (sensors.Sample, error), marked func() error) func(context.Context) (sensors.Sample, error) {
	const agree = 0.2 // °C, what the air may move from one to the other and a misread bit may not
	return func(ctx context.Context) (sensors.Sample, error) {
		first, err := sense(ctx)
		if err != nil {
			return first, err
		}
		if err := marked(); err != nil {
			return first, err
		}
		second, err := sense(ctx)
		if err == nil && math.Abs(second.TempC-first.TempC) > agree {
			err = found(sensors.BadChecksum, "the temperature reads %g °C, then %g °C", first.TempC, second.TempC)
		}
		return first, err
	}
}

// inspectMCP9808 looks at the registers that hold what is known.
func inspectMCP9808(w, r []byte) error {
	if len(w) != 1 || len(r) == 0 {
		return nil
	}
	switch reg := w[0]; {
	case reg == mcpTemp:
		return nil // zeros and ones are temperatures, too
	case dead("register", r) != nil:
		return dead(fmt.Sprintf("register %d", reg), r)
	case reg == mcpManufacturer && word(r) != mcpIsMicrochip, reg == mcpDevice && r[0] != mcpIsMCP9808:
		return fmt.Errorf("this is no MCP9808, or the bus spoils bytes: register %d reads % X", reg, r)
	case reg == mcpResolution && r[0] != mcpEighths:
		return found(sensors.PowerOn, "the chip has restarted: its resolution reads %d, not %d", r[0], mcpEighths)
	}
	return nil
}
