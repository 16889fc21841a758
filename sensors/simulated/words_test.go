package simulated_test

import (
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/sensors/simulated"
)

// steady is air that does not change.
func steady(tempC, humidity float64) func() simulated.Air {
	return func() simulated.Air { return simulated.Air{TempC: tempC, Humidity: humidity} }
}

// talk is what is said to a chip alone on a bus.
type talk struct {
	t    *testing.T
	bus  *simulated.Bus
	addr uint16
}

func to(t *testing.T, c simulated.Chip) talk {
	bus := simulated.NewBus("board")
	bus.Attach(0x44, c)
	return talk{t, bus, 0x44}
}

func (k talk) tell(hexBytes string) error {
	b, err := hex.DecodeString(strings.ReplaceAll(hexBytes, " ", ""))
	require.NoError(k.t, err)
	return k.bus.Tx(k.addr, b, nil)
}

// ask sends a command and, after a pause, reads; "nack" stands for a read that is not acknowledged.
func (k talk) ask(command string, after time.Duration, n int) string {
	if command != "" {
		require.NoError(k.t, k.tell(command))
	}
	time.Sleep(after)
	r := make([]byte, n)
	if k.bus.Tx(k.addr, nil, r) != nil {
		return "nack"
	}
	return fmt.Sprintf("% X", r)
}

// SHT3x-DIS data sheet: 4.4 (not acknowledged before the end of the measurement, given once), table 20
// (checksum BEEF: 92), 4.13 (0x6666 is 25 °C and 40 %), table 18 (status after power-on).
func TestSHT3xSpeaksAsInItsDataSheet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := simulated.NewSHT3x(0xBEEF0000, steady(25, 0.4))
		k := to(t, chip)
		require.Equal(t, "nack", k.ask("", 0, 6), "nothing was asked for")
		require.Equal(t, "nack", k.ask("24 00", 15*time.Millisecond, 6))
		require.Equal(t, "66 66 93 66 66 93", k.ask("24 00", 15500*time.Microsecond, 6))
		require.Equal(t, "nack", k.ask("", time.Second, 6))
		require.Equal(t, "BE EF 92 00 00 81", k.ask("36 82", 0, 6))
		require.Equal(t, "00 10", k.ask("F3 2D", 0, 2))
		require.NoError(t, k.tell("30 41"))
		require.Equal(t, "00 00 81", k.ask("F3 2D", 0, 3))
		require.NoError(t, k.tell("30 6D"))
		require.Equal(t, "20 00", k.ask("F3 2D", 0, 2))
		require.True(t, chip.Heats())
		require.NoError(t, k.tell("30 A2"))
		require.Equal(t, "00 10", k.ask("F3 2D", 0, 2))
		require.Error(t, k.tell("FD"), "no command")
		require.Error(t, k.tell("37 81"), "no command of this chip")
	})
}

// SNAS778 and SHT3x-DIS 4.5, 4.6: each of the repeated measurements is given once, single ones are
// refused meanwhile, a restart ends them. The numbers are recorded in periph devices v3.7.4, hdc302x test.
func TestHDC302xSpeaksAsInItsDataSheet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := simulated.NewHDC302x(0xC295B1491521, steady(25, 0.4))
		k := to(t, chip)
		require.Equal(t, "C2 95 3E", k.ask("36 83", 0, 3))
		require.Equal(t, "B1 49 51", k.ask("36 84", 0, 3))
		require.Equal(t, "15 21 2F", k.ask("36 85", 0, 3))
		require.Equal(t, "30 00 33", k.ask("37 81", 0, 3))
		require.Equal(t, "66 66 93 66 66 93", k.ask("24 00", 12500*time.Microsecond, 6))
		require.Error(t, k.tell("36 82"), "no command of this chip")

		const frame = "66 66 93 66 66 93"
		require.NoError(t, k.tell("21 30"))
		require.Error(t, k.tell("24 00"), "it measures by itself")
		require.Equal(t, "nack", k.ask("E0 00", 0, 6), "not yet")
		time.Sleep(13 * time.Millisecond)
		require.Equal(t, frame, k.ask("E0 00", 0, 6))
		require.Equal(t, "nack", k.ask("E0 00", 0, 6), "once")
		time.Sleep(time.Second)
		require.Equal(t, frame, k.ask("E0 00", 0, 6))
		chip.LosePower()
		time.Sleep(time.Minute)
		require.Equal(t, "nack", k.ask("E0 00", 0, 6), "it has ended")
		require.NoError(t, k.tell("20 32"))
		time.Sleep(time.Second)
		require.NoError(t, k.tell("30 93"))
		require.Equal(t, "nack", k.ask("E0 00", 0, 6), "stopped")
	})
}

// SHT4x data sheet, 4.5 and 4.6: one-byte commands; 0x6666 is 25 °C and 44 %.
func TestSHT4xSpeaksAsInItsDataSheet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := to(t, simulated.NewSHT4x(0xBEEF0000, steady(25, 0.44)))
		for command, took := range map[string]time.Duration{"FD": 8300 * time.Microsecond, "F6": 4500 * time.Microsecond, "E0": 1700 * time.Microsecond} {
			require.Equal(t, "nack", k.ask(command, took-1, 6))
			require.Equal(t, "66 66 93 66 66 93", k.ask(command, took, 6))
		}
		require.Equal(t, "BE EF 92 00 00 81", k.ask("89", time.Millisecond, 6))
		require.NoError(t, k.tell("94"))
		require.Equal(t, "nack", k.ask("", time.Second, 6))
		require.Error(t, k.tell("24 00"), "a command of SHT3x")
	})
}

// Sensirion SCD4x data sheet: a measurement each five seconds, given once; most commands are refused
// meanwhile; after the stop it is deaf for half a second. Answers recorded in periph devices v3.7.4.
func TestSCD4xSpeaksAsInItsDataSheet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := simulated.NewSCD4x(0x73B1EB073B0C, steady(25, 0.4))
		k := to(t, chip)
		require.Equal(t, "73 B1 19 EB 07 7A 3B 0C 54", k.ask("36 82", time.Millisecond, 9))
		require.Equal(t, "05 DA 29", k.ask("23 18", 0, 3), "4 °C")
		require.NoError(t, k.tell("36 F6"))
		require.NoError(t, k.tell("21 B1"))
		require.Error(t, k.tell("36 82"))
		require.Error(t, k.tell("36 F6"))
		require.Equal(t, "80 00 A2", k.ask("E4 B8", 0, 3))
		require.Equal(t, "nack", k.ask("EC 05", 0, 9))
		time.Sleep(5 * time.Second)
		require.Equal(t, "80 06 04", k.ask("E4 B8", 0, 3))
		require.Equal(t, "66 66 93 66 66 93", k.ask("EC 05", 0, 9)[9:])
		require.Equal(t, "80 00 A2", k.ask("E4 B8", 0, 3))
		require.NoError(t, k.tell("3F 86"))
		require.Error(t, k.tell("36 82"), "deaf")
		time.Sleep(500 * time.Millisecond)
		require.NoError(t, k.tell("24 1D 05 DA 29"))
		require.Error(t, k.tell("24 1D 05 DA 28"), "a wrong checksum")
		require.Equal(t, uint16(0x05DA), chip.Offset())
		chip.SetOffset(0)
		require.NoError(t, k.tell("36 46"))
		require.Equal(t, uint16(0x05DA), chip.Offset())
	})
}

// A false offset shows in the temperature: with none the chip's own heat does.
func TestSCD4xOffset(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := simulated.NewSCD4x(1, steady(21, 0.4))
		chip.SetOffset(0)
		k := to(t, chip)
		require.NoError(t, k.tell("21 B1"))
		time.Sleep(5 * time.Second)
		require.Equal(t, "66 66 93", k.ask("EC 05", 0, 9)[9:17], "25 °C")
	})
}

// Chips that change places lose their power; an address can be left empty that way.
func TestSwap(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := simulated.NewBus("board")
		bus.Attach(0x44, simulated.NewSHT3x(1, steady(20, 0.5)))
		bus.Attach(0x45, simulated.NewSHT3x(2, steady(20, 0.5)))
		serial := func(addr uint16) string { return talk{t, bus, addr}.ask("36 82", 0, 6) }
		one, other := serial(0x44), serial(0x45)
		bus.Swap(0x44, 0x45)
		require.Equal(t, []string{other, one}, []string{serial(0x44), serial(0x45)})
		bus.Swap(0x45, 0x46)
		require.Error(t, bus.Tx(0x45, []byte{0x36, 0x82}, nil))
		require.Equal(t, one, talk{t, bus, 0x46}.ask("36 82", 0, 6))
	})
}

// Values beyond a chip's reach end at its ends.
func TestChipsEndAtTheirEnds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		tempC, humidity := rapid.Float64Range(-300, 400).Draw(rt, "temp"), rapid.Float64Range(-1, 2).Draw(rt, "rh")
		synctest.Test(t, func(t *testing.T) {
			got := to(t, simulated.NewSHT3x(1, steady(tempC, humidity))).ask("24 00", time.Second, 6)
			if tempC <= -45 {
				require.Equal(rt, "00 00 81", got[:8])
			}
			if tempC >= 130 {
				require.Equal(rt, "FF FF AC", got[:8])
			}
			if humidity <= 0 {
				require.Equal(rt, "00 00 81", got[9:])
			}
			if humidity >= 1 {
				require.Equal(rt, "FF FF AC", got[9:])
			}
			k := to(t, simulated.NewAHT20(steady(tempC, humidity)))
			require.NoError(rt, k.tell("BE 08 00"))
			got = k.ask("AC 33 00", time.Second, 7)
			if humidity >= 1 {
				require.Equal(rt, "FF FF F", got[3:10])
			}
			if tempC >= 150 {
				require.Equal(rt, "F FF FF", got[10:17])
			}
		})
	})
}
