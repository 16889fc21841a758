package chips_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

func addrs(all []chips.Found) []string {
	var out []string
	for _, f := range all {
		out = append(out, fmt.Sprintf("%#x %s %t", f.Addr, f.Kinds, f.Sure))
	}
	return out
}

// What is on a bus is told, and told as certain only where a number or checksum says so.
func TestLook(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := simulated.NewBus("board")
		line, _ := thermometersOnLine(18)
		celsius := func() float64 { return 20.5 }
		for addr, c := range map[uint16]simulated.Chip{
			0x18: simulated.NewBridge(line), 0x1C: simulated.NewMCP9808(celsius), 0x38: simulated.NewAHT20(air),
			0x44: simulated.NewSHT3x(1, air), 0x45: simulated.NewSHT4x(2, air), 0x46: simulated.NewHDC302x(3, air),
			0x48: simulated.NewTMP102(celsius), 0x5C: simulated.NewAM2320(air), 0x62: simulated.NewSCD4x(4, air),
			0x76: simulated.NewBME280(air),
		} {
			bus.Attach(addr, c)
		}
		found := chips.Look(t.Context(), bus, t.TempDir())
		require.Equal(t, []string{
			"0x18 [bridge] false", "0x1c [MCP9808] true", "0x38 [AHT20] true", "0x44 [SHT3x] true", "0x45 [SHT4x] true",
			"0x46 [HDC302x] true", "0x48 [TMP102] false", "0x5c [AM2320] false", "0x62 [SCD4x] true", "0x76 [BME280] true",
		}, addrs(found))
		for _, f := range found {
			require.NoError(t, f.Err)
			t.Log(f)
		}
		require.Contains(t, found[6].String(), "perhaps TMP102; if so, it reads 20.5 °C")
		require.Empty(t, chips.Look(t.Context(), simulated.NewBus("board"), t.TempDir()), "nobody there")
	})
}

// asked is a bus that writes down which addresses were touched and what was written to them.
type asked struct {
	*simulated.Bus
	name    string
	touched map[uint16]int
	written []string
}

func (b *asked) String() string { return b.name }

func (b *asked) Tx(addr uint16, w, r []byte) error {
	b.touched[addr]++
	if len(w) > 0 {
		b.written = append(b.written, fmt.Sprintf("%#x % X", addr, w))
	}
	return b.Bus.Tx(addr, w, r)
}

// Only the addresses of known chips are asked; those of kernel drivers, known or not, are listed and left
// alone.
func TestLookLeavesAloneWhatIsNotItsOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sys := t.TempDir()
		for addr, driver := range map[string]string{"3-0044": "sht3x", "3-0068": "rtc-ds1307", "2-0076": "bmp280"} {
			require.NoError(t, os.MkdirAll(filepath.Join(sys, addr), 0o755))
			require.NoError(t, os.Symlink("../../drivers/"+driver, filepath.Join(sys, addr, "driver")))
		}
		bus := &asked{Bus: simulated.NewBus("board"), name: "/dev/i2c-3", touched: map[uint16]int{}}
		for addr := uint16(0x03); addr <= 0x77; addr++ {
			bus.Attach(addr, simulated.NewBME280(air))
		}
		found := chips.Look(t.Context(), bus, sys)
		for addr := range bus.touched {
			known := addr >= 0x18 && addr <= 0x1F || addr >= 0x44 && addr <= 0x4B || slices.Contains([]uint16{0x38, 0x5C, 0x62, 0x76, 0x77}, addr)
			require.True(t, known, "%#x was asked", addr)
		}
		require.Zero(t, bus.touched[0x44])
		require.Positive(t, bus.touched[0x76], "another bus's")
		var owned []string
		for _, f := range found {
			if f.Owner != "" {
				owned = append(owned, f.String())
			}
		}
		require.Equal(t, []string{`0x44  owned by the kernel driver "sht3x"; not asked`, `0x68  owned by the kernel driver "rtc-ds1307"; not asked`}, owned)

		written := func(addr uint16) (out []string) {
			for _, w := range bus.written {
				if w[:4] == fmt.Sprintf("%#x", addr) {
					out = append(out, w)
				}
			}
			return out
		}
		for _, addr := range []uint16{0x38, 0x48, 0x5C, 0x62} {
			require.Empty(t, written(addr), "plain reads only, or only where those are refused")
		}
		require.Equal(t, []string{"0x76 D0"}, written(0x76))
	})
}

// A look changes nothing for who measures next.
func TestLookDoesNotDisturb(t *testing.T) {
	for _, r := range rigs() {
		synctest.Test(t, func(t *testing.T) {
			bus, _ := r.on(func() simulated.Air { return benchAir })
			p, err := r.open(bus, r.addr)(t.Context())
			require.NoError(t, err)
			for range 3 {
				chips.Look(t.Context(), bus, t.TempDir())
				s, err := p.Sense(t.Context())
				require.NoError(t, err, r.name)
				require.InDelta(t, benchAir.TempC, s.TempC, 0.126, r.name)
			}
		})
	}
}

func TestLookTellsWhatDoesNotAnswerWell(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x45, simulated.NewSHT4x(1, air))
		chip.Break(simulated.TimedOut)
		found := chips.Look(t.Context(), bus, t.TempDir())
		require.Len(t, found, 1)
		require.Equal(t, sensors.Timeout, sensors.FaultOf(found[0].Err))
		require.Contains(t, found[0].String(), "0x45  cannot be asked: ask what is at 0x45 on board")
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		require.Empty(t, chips.Look(ctx, bus, t.TempDir()), "it ends with its context")
	})
}

// Chips that sit at known addresses and are others.
func TestLookIsNotFooled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for addr, note := range map[uint16]string{
			0x18: "no MCP9808, and no idle bridge", 0x38: "not asked further", 0x44: "has no number of a chip known here",
			0x48: "no temperature of a TMP102", 0x5C: "answers at once", 0x62: "allows a plain read", 0x77: "is of no chip known here",
		} {
			bus, chip := benched(addr, simulated.NewBME280(air)) // a chip with registers, all of whose bytes read
			chip.Break(simulated.Ones)
			found := chips.Look(t.Context(), bus, t.TempDir())
			require.Len(t, found, 1, "%#x", addr)
			require.False(t, found[0].Sure, "%#x", addr)
			require.Contains(t, found[0].Note, note)
		}
		for id, note := range map[byte]string{0x58: "BMP280", 0x55: "BMP180", 0x61: "BME680"} {
			bus := otherChip{simulated.NewBus("board"), id}
			bus.Attach(0x76, simulated.NewBME280(air))
			require.Contains(t, chips.Look(t.Context(), bus, t.TempDir())[0].Note, note)
		}
	})
}
