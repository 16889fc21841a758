package simulated_test

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors/simulated"
)

// AHT20 data sheet: the frames are published ones (periph devices v3.7.4; the other, with a reserved bit
// set, in the wiki of elixir-sensors/aht20).
func TestAHT20SpeaksAsInItsDataSheet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := simulated.NewAHT20(steady(19.445801, 0.4582825))
		k := to(t, chip)
		require.Equal(t, "10", k.ask("71", 0, 1), "not calibrated")
		require.NoError(t, k.tell("BE 08 00"))
		require.Equal(t, "18", k.ask("71", 0, 1))
		require.Equal(t, "98", k.ask("AC 33 00", 74*time.Millisecond, 1), "busy")
		require.Equal(t, "18 75 52 05 8E 40 7F", k.ask("AC 33 00", 80*time.Millisecond, 7))
		chip.SetFrame([]byte{0x1C, 0x26, 0x9A, 0x76, 0x42, 0xE7, 0x76})
		require.Equal(t, "1C 26 9A 76 42 E7 76", k.ask("AC 33 00", 80*time.Millisecond, 7))
		chip.SetFrame(nil)
		require.NoError(t, k.tell("BA"))
		require.Equal(t, "10 00 00 00 00 00", k.ask("", 0, 6), "restarted")
		require.Error(t, k.tell("24 00"))
	})
}

// Aosong AM2320 product manual, 8.2.4: woken without an acknowledge, answers after 1.5 ms, and with what
// was measured after the answer before. The frames are published ones.
func TestAM2320SpeaksAsInItsManual(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := simulated.Air{TempC: 25, Humidity: 0.5}
		chip := simulated.NewAM2320(func() simulated.Air { return now })
		k := to(t, chip)
		wake := func() {
			require.Error(t, k.tell("00"))
			time.Sleep(time.Millisecond)
			require.NoError(t, k.tell("00"))
		}
		wake()
		require.Equal(t, "FF FF FF FF FF FF FF FF", k.ask("03 00 04", time.Millisecond, 8), "too early")
		require.Equal(t, "03 04 01 F4 00 FA 31 A5", k.ask("03 00 04", 1500*time.Microsecond, 8))
		require.Error(t, k.tell("03 00 04"), "asleep again")
		time.Sleep(4 * time.Second)
		now = simulated.Air{TempC: 27.7, Humidity: 0.825}
		wake()
		require.Equal(t, "03 04 01 F4 00 FA 31 A5", k.ask("03 00 04", 2*time.Millisecond, 8), "the air before")
		time.Sleep(2 * time.Second)
		wake()
		require.Equal(t, "03 04 03 39 01 15 E1 FE", k.ask("03 00 04", 2*time.Millisecond, 8))
		chip.LosePower()
		require.Error(t, k.tell("00"))
		time.Sleep(time.Second)
		require.Error(t, k.tell("00"), "it is not to be spoken to for two seconds")
	})
}

// Product manual, 8.3.2: −10.1 °C is 1000 0000 0110 0101; 0xFFFF in two's complement is logged in
// adafruit/DHT-sensor-library issue 182.
func TestAM2320BelowZero(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, c := range []struct {
			tempC      float64
			complement bool
			want       string
		}{{-10.1, false, "80 65"}, {-0.1, true, "FF FF"}, {35.1, true, "01 5F"}} {
			chip := simulated.NewAM2320(steady(c.tempC, 0.652))
			chip.SetComplement(c.complement)
			k := to(t, chip)
			require.Error(t, k.tell("00"))
			time.Sleep(time.Millisecond)
			require.Equal(t, "03 04 02 8C "+c.want, k.ask("03 00 04", 2*time.Millisecond, 8)[:17])
		}
	})
}

// Microchip DS25095: examples of the temperature register (5.1.3.1), numbers of maker and device, power-on
// values, conversion times by resolution (5.2.4) and what shutdown does.
func TestMCP9808SpeaksAsInItsDataSheet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := 25.25
		chip := simulated.NewMCP9808(func() float64 { return now })
		k := to(t, chip)
		require.Equal(t, "00 54", k.ask("06", 0, 2))
		require.Equal(t, "04 00", k.ask("07", 0, 2))
		require.Equal(t, "03", k.ask("08", 0, 1))
		for tempC, want := range map[float64]string{25.25: "C1 94", 0: "80 00", -1: "3F F0", -10: "3F 60", -25.25: "3E 6C"} {
			now = tempC
			require.Equal(t, want, k.ask("05", 0, 2), "alert limits are 0 °C at power-on")
		}
		require.NoError(t, k.tell("04 05 00")) // 80 °C
		require.NoError(t, k.tell("02 05 00"))
		require.NoError(t, k.tell("03 1E 00")) // −32 °C
		for tempC, want := range map[float64]string{25.25: "01 94", 0: "00 00", -1: "1F F0", -10: "1F 60", -25.25: "1E 6C"} {
			now = tempC
			require.Equal(t, want, k.ask("05", 0, 2))
		}
		now = 20.99
		for res, want := range map[string]string{"00": "01 48", "01": "01 4C", "02": "01 4E", "03": "01 4F"} {
			require.NoError(t, k.tell("08 "+res))
			require.Equal(t, want, k.ask("05", time.Second, 2), "half, quarter, eighth and sixteenth of a degree")
		}
		require.NoError(t, k.tell("08 03"))
		require.Equal(t, "01 4F", k.ask("05", time.Second, 2))
		require.NoError(t, k.tell("01 01 00"))
		now = 5
		require.Equal(t, "01 4F", k.ask("05", time.Hour, 2), "shut down")
		require.NoError(t, k.tell("01 00 00"))
		require.Equal(t, "01 4F", k.ask("05", 249*time.Millisecond, 2), "not yet converted")
		require.Equal(t, "00 50", k.ask("05", time.Millisecond, 2))
		chip.LosePower()
		require.Equal(t, "00 00", k.ask("05", 0, 2))
		require.Equal(t, "00 00", k.ask("02", 0, 2))
		require.Equal(t, "00 00", k.ask("0F", 0, 2), "reserved")
		raw := uint16(0xC194)
		chip.SetRaw(&raw)
		require.Equal(t, "C1 94", k.ask("05", time.Second, 2))
	})
}

// Texas Instruments SBOS397: 12-bit format, 13-bit format, power-on values, shutdown.
func TestTMP102SpeaksAsInItsDataSheet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := 0.0
		chip := simulated.NewTMP102(func() float64 { return now })
		k := to(t, chip)
		require.Equal(t, "60 A0", k.ask("01", 0, 2))
		require.Equal(t, "4B 00", k.ask("02", 0, 2))
		require.Equal(t, "50 00", k.ask("03", 0, 2))
		for tempC, want := range map[float64]string{
			128: "7F F0", 127.9375: "7F F0", 100: "64 00", 80: "50 00", 75: "4B 00", 50: "32 00", 25: "19 00",
			0.25: "00 40", 0: "00 00", -0.25: "FF C0", -25: "E7 00", -55: "C9 00",
		} {
			now = tempC
			require.Equal(t, want, k.ask("00", 0, 2), "%g °C", tempC)
		}
		require.NoError(t, k.tell("01 FF FF"))
		require.Equal(t, "7F F0", k.ask("01", 0, 2), "one-shot, alert and the low bits are not kept")
		require.NoError(t, k.tell("00 12 34"))
		require.NoError(t, k.tell("02 12 30"))
		require.Equal(t, "12 30", k.ask("02", 0, 2))
		require.NoError(t, k.tell("01 60 A0"))
		now = -55
		require.Equal(t, "C9 00", k.ask("00", time.Second, 2))
		require.NoError(t, k.tell("01 61 A0"))
		now = 5
		require.Equal(t, "C9 00", k.ask("00", time.Hour, 2), "shut down")
		require.NoError(t, k.tell("01 60 A0"))
		require.Equal(t, "C9 00", k.ask("00", 25*time.Millisecond, 2), "not yet converted")
		require.Equal(t, "05 00", k.ask("00", time.Millisecond, 2))
		chip.SetExtended()
		now = 25
		require.Equal(t, "0C 81", k.ask("00", 0, 2), "0x0190 in 13 bits, lowest bit set")
		chip.LosePower()
		require.Equal(t, "00 00", k.ask("00", 0, 2))
		raw := uint16(0x7FF0)
		chip.SetRaw(&raw)
		require.Equal(t, "7F F0", k.ask("00", time.Second, 2))
	})
}
