package chips_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

// The kinds of fault that end in the same kind of error on every chip. Errno: Linux kernel
// documentation, i2c/fault-codes.
func TestKindsOfFaults(t *testing.T) {
	for _, c := range []struct {
		trouble simulated.Trouble
		kind    sensors.Fault
		errno   syscall.Errno // 0: none
	}{
		{simulated.Nack, sensors.NoResponse, 121},
		{simulated.Gone, sensors.NoResponse, syscall.ENXIO},
		{simulated.TimedOut, sensors.Timeout, syscall.ETIMEDOUT},
		{simulated.Zeros, sensors.BusError, 0},
		{simulated.Ones, sensors.NoResponse, 0},
	} {
		for _, r := range rigs() {
			hint := fmt.Sprintf("%s, %s", r.name, c.trouble)
			synctest.Test(t, func(t *testing.T) {
				bus, chip := r.on(func() simulated.Air { return benchAir })
				p, err := r.open(bus, r.addr)(t.Context())
				require.NoError(t, err, hint)
				chip.Break(c.trouble)
				_, err = p.Sense(t.Context())
				require.Error(t, err, hint)
				require.Equal(t, c.kind, sensors.FaultOf(err), "%s: %v", hint, err)
				says := strings.Replace(r.name, "BMP280", "BME280", 1) // which is known only when it has answered
				require.ErrorContains(t, err, fmt.Sprintf("measure with %s at %#x on board", says, r.addr))
				if c.errno != 0 {
					require.ErrorIs(t, err, c.errno, hint)
				}
				require.NoError(t, p.Close(), "a broken chip is left alone")
				_, err = r.open(bus, r.addr)(t.Context())
				proves := r.name != "AM2320" && (r.name != "AHT20" || c.trouble != simulated.Zeros)
				require.Equal(t, proves, err != nil, "%s: %v", hint, err)
			})
		}
	}
}

// What no chip's driver does by itself: give up soon, so that the other probes of the bus get their turn.
func TestABrokenChipDoesNotHoldTheBus(t *testing.T) {
	longest := map[string]time.Duration{}
	for _, trouble := range []simulated.Trouble{simulated.Nack, simulated.Gone, simulated.Zeros, simulated.Ones, simulated.Flips,
		simulated.TimedOut, simulated.Busy, simulated.BrownOut} {
		for _, r := range rigs() {
			synctest.Test(t, func(t *testing.T) {
				bus, chip := r.on(func() simulated.Air { return benchAir })
				p, err := r.open(bus, r.addr)(t.Context())
				require.NoError(t, err)
				chip.Break(trouble)
				before, began := bus.Transactions(), time.Now()
				_, _ = p.Sense(t.Context())
				took := time.Since(began)
				longest[r.name] = max(longest[r.name], took)
				require.LessOrEqual(t, bus.Transactions()-before, 70, "%s, %s", r.name, trouble)
			})
		}
	}
	t.Log("longest by chip: ", longest)
	require.Less(t, longest["SCD4x"], 7*time.Second, "it is asked each second for six")
	delete(longest, "SCD4x")
	for name, d := range longest {
		require.Less(t, d, 3*time.Second, name)
	}
}

// A measurement whose context has ended does not touch the bus; one whose context ends meanwhile stops
// at its next step.
func TestMeasurementsEndWithTheirContext(t *testing.T) {
	for _, r := range rigs() {
		synctest.Test(t, func(t *testing.T) {
			bus, _ := r.on(func() simulated.Air { return benchAir })
			p, err := r.open(bus, r.addr)(t.Context())
			require.NoError(t, err)
			ended, cancel := context.WithCancel(t.Context())
			cancel()
			before := bus.Transactions()
			_, err = p.Sense(ended)
			require.ErrorIs(t, err, context.Canceled, r.name)
			require.Equal(t, before, bus.Transactions(), r.name)

			ends, cancel := context.WithTimeout(t.Context(), time.Second)
			defer cancel()
			began := time.Now()
			_, err = p.Sense(ends)
			if err != nil {
				require.Equal(t, sensors.Timeout, sensors.FaultOf(err), r.name)
			}
			require.LessOrEqual(t, time.Since(began), 2*time.Second, r.name)

			_, err = r.open(bus, r.addr)(ended)
			require.ErrorIs(t, err, context.Canceled, r.name)
		})
	}
}

func TestChipsOfKernelDriversAreRefused(t *testing.T) {
	sys := t.TempDir()
	for _, r := range rigs() {
		device := filepath.Join(sys, fmt.Sprintf("1-%04x", r.addr))
		require.NoError(t, os.MkdirAll(device, 0o755))
		link := filepath.Join(device, "driver")
		require.NoError(t, os.RemoveAll(link))
		require.NoError(t, os.Symlink("../../../bus/i2c/drivers/owner-of-"+r.name, link))
		bus, _ := r.on(func() simulated.Air { return benchAir })
		_, err := r.open(ownedBus{bus, sys}, r.addr)(t.Context())
		require.ErrorContains(t, err, fmt.Sprintf("the kernel driver %q owns it", "owner-of-"+r.name))
		require.Zero(t, bus.Transactions(), r.name)
	}
}

func TestAddressesThatAChipCannotHave(t *testing.T) {
	for _, r := range rigs() {
		bus, _ := r.on(func() simulated.Air { return benchAir })
		_, err := r.open(bus, 0x50)(t.Context())
		require.ErrorContains(t, err, "cannot have the address 0x50", r.name)
		require.Zero(t, bus.Transactions(), r.name)
	}
}

// A heater that another program left on is switched off before anything is measured.
func TestHeatersAreSwitchedOff(t *testing.T) {
	for _, name := range []string{"SHT3x", "HDC302x"} {
		synctest.Test(t, func(t *testing.T) {
			r := rigOf(t, name)
			bus, chip := r.on(func() simulated.Air { return benchAir })
			require.NoError(t, bus.Tx(r.addr, []byte{0x30, 0x6D}, nil))
			heated := chip.(interface{ Heats() bool })
			require.True(t, heated.Heats())
			s, err := sense(r.open(bus, r.addr))
			require.NoError(t, err)
			require.False(t, heated.Heats())
			require.InDelta(t, benchAir.TempC, s.TempC, 0.01)
		})
	}
}

// A chip that another program left measuring again and again is taken over.
func TestRepeatedMeasurementsAreTakenOver(t *testing.T) {
	for name, start := range map[string][]byte{"SHT3x": {0x21, 0x30}, "HDC302x": {0x20, 0x32}, "SCD4x": {0x21, 0xB1}} {
		synctest.Test(t, func(t *testing.T) {
			r := rigOf(t, name)
			bus, _ := r.on(func() simulated.Air { return benchAir })
			require.NoError(t, bus.Tx(r.addr, start, nil))
			time.Sleep(time.Minute)
			s, err := sense(r.open(bus, r.addr))
			require.NoError(t, err, name)
			require.InDelta(t, benchAir.TempC, s.TempC, 0.01)
		})
	}
}

func TestHDC302xIsNotTakenForAnother(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, _ := benched(0x44, simulated.NewSHT3x(1, air))
		_, err := chips.HDC302x(bus, 0x44)(t.Context())
		require.Error(t, err, "it takes the same commands, but has another maker's number")
		_, err = chips.SHT4x(bus, 0x44)(t.Context())
		require.Error(t, err, "the humidity scale is another")
		bus, _ = benched(0x44, simulated.NewSHT4x(1, air))
		_, err = chips.SHT3x(bus, 0x44)(t.Context())
		require.Error(t, err)
	})
}

// Between measurements an HDC302x sleeps, which keeps it from warming itself.
func TestHDC302xSleepsBetween(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := rigOf(t, "HDC302x")
		bus, _ := r.on(func() simulated.Air { return benchAir })
		p, err := r.open(bus, r.addr)(t.Context())
		require.NoError(t, err)
		_, err = p.Sense(t.Context())
		require.NoError(t, err)
		time.Sleep(time.Minute)
		require.Error(t, bus.Tx(r.addr, []byte{0xE0, 0x00}, make([]byte, 6)), "nothing was measured meanwhile")
	})
}

func TestSCD4xWithAFalseOffsetIsRefused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x62, simulated.NewSCD4x(1, air))
		chip.SetOffset(0x7648) // what the driver writes for 4 K
		_, err := chips.SCD4x(bus, 0x62)(t.Context())
		require.Equal(t, sensors.OutOfRange, sensors.FaultOf(err))
		require.ErrorContains(t, err, "80.9 °C")
	})
}

// After Close the chip does not measure on.
func TestSCD4xIsPutToRest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := rigOf(t, "SCD4x")
		bus, _ := r.on(func() simulated.Air { return benchAir })
		p, err := r.open(bus, r.addr)(t.Context())
		require.NoError(t, err)
		_, err = p.Sense(t.Context())
		require.NoError(t, err)
		require.NoError(t, p.Close())
		time.Sleep(time.Minute)
		status := make([]byte, 3)
		require.NoError(t, bus.Tx(r.addr, []byte{0xE4, 0xB8}, status))
		require.Equal(t, []byte{0x80, 0x00, 0xA2}, status, "no data (periph devices v3.7.4, scd4x test)")
	})
}

// An AHT20 that loads its calibration by itself after a restart shows zeros with a right checksum.
func TestAHT20ThatWakesUpWithZeros(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x38, simulated.NewAHT20(air))
		chip.SetEager(true)
		p, err := chips.AHT20(bus, 0x38)(t.Context())
		require.NoError(t, err)
		chip.Break(simulated.BrownOut)
		_, err = p.Sense(t.Context())
		require.Equal(t, sensors.PowerOn, sensors.FaultOf(err))
		require.ErrorContains(t, err, "18 00 00 00 00 00")
	})
}

// What is measured after an hour of rest is the air of now.
func TestAM2320MeasuresTheAirOfNow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := benchAir
		bus, _ := benched(0x5C, simulated.NewAM2320(func() simulated.Air { return now }))
		p, err := chips.AM2320(bus, 0x5C)(t.Context())
		require.NoError(t, err)
		for _, tempC := range []float64{20, -7, 5} {
			time.Sleep(time.Hour)
			now.TempC = tempC
			began := time.Now()
			s, err := p.Sense(t.Context())
			require.NoError(t, err)
			require.InDelta(t, tempC, s.TempC, 1e-9)
			require.InDelta(t, 2.2, time.Since(began).Seconds(), 0.1)
		}
	})
}

// A program that put the thermometers to sleep left an old value in them.
func TestOldValuesOfSleepingThermometersAreNotUsed(t *testing.T) {
	for name, sleep := range map[string][]byte{"MCP9808": {0x01, 0x01, 0x00}, "TMP102": {0x01, 0x61, 0xA0}} {
		synctest.Test(t, func(t *testing.T) {
			r := rigOf(t, name)
			now := benchAir
			bus, _ := r.on(func() simulated.Air { return now })
			reg := map[string]byte{"MCP9808": 5, "TMP102": 0}[name]
			require.NoError(t, bus.Tx(r.addr, []byte{reg}, make([]byte, 2)))
			require.NoError(t, bus.Tx(r.addr, sleep, nil))
			now.TempC = 5
			s, err := sense(r.open(bus, r.addr))
			require.NoError(t, err, name)
			require.InDelta(t, 5, s.TempC, 0.01, name)
		})
	}
}

// The 13-bit format that another program may have set is set back.
func TestTMP102InItsOtherFormat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x48, simulated.NewTMP102(func() float64 { return 20 }))
		chip.SetExtended()
		p, err := chips.TMP102(bus, 0x48)(t.Context())
		require.NoError(t, err)
		s, err := p.Sense(t.Context())
		require.NoError(t, err)
		require.Equal(t, 20.0, s.TempC)
		chip.SetExtended()
		_, err = p.Sense(t.Context())
		require.ErrorContains(t, err, "0x6050, not 0x6040")
	})
}
