package sht_test

import (
	"encoding/csv"
	"encoding/hex"
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/physic"

	"pourward/sensors/chips/sht"
)

func octets(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	require.NoError(t, err)
	return b
}

// Serial number of a chip as recorded in periph devices v3.7.4, scd4x test: two words of it.
const serialWords = "73 B1 19 EB 07 7A"

// opening is what a sound chip and the driver say to each other at first.
func opening(t *testing.T, m sht.Model) []i2ctest.IO {
	serial := octets(t, serialWords)
	if m == sht.SHT4x {
		return []i2ctest.IO{{Addr: 0x44, W: []byte{0x94}}, {Addr: 0x44, W: []byte{0x89}}, {Addr: 0x44, R: serial}}
	}
	return []i2ctest.IO{{Addr: 0x44, W: []byte{0x30, 0x93}}, {Addr: 0x44, W: []byte{0x30, 0x66}}, {Addr: 0x44, W: []byte{0x36, 0x82}}, {Addr: 0x44, R: serial}}
}

// measured opens a chip, lets it answer a frame and measures.
func measured(t *testing.T, o sht.Opts, shot, frame []byte) (e physic.Env, err error) {
	ops := append(opening(t, o.Model), i2ctest.IO{Addr: 0x44, W: shot}, i2ctest.IO{Addr: 0x44, R: frame})
	bus := &i2ctest.Playback{Ops: ops, DontPanic: true}
	dev, err := sht.NewI2C(bus, 0x44, &o)
	require.NoError(t, err)
	serial, told := dev.Serial()
	require.True(t, told)
	require.Equal(t, uint32(0x73B1EB07), serial)
	err = dev.Sense(&e)
	require.NoError(t, bus.Close(), "every step was made")
	return e, err
}

// The published conversions; the steps are those of the data sheets (SHT3x-DIS 4.3 and 4.4, SHT4x 4.5).
func TestPublishedFrames(t *testing.T) {
	f, err := os.Open("../testdata/frames.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	shots := map[string][]byte{"SHT3x": {0x24, 0x00}, "SHT4x": {0xFD}}
	models := map[string]sht.Model{"SHT3x": sht.SHT3x, "SHT4x": sht.SHT4x}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return v
	}
	seen := 0
	for _, row := range rows {
		shot, ours := shots[row[0]]
		if !ours {
			continue
		}
		seen++
		synctest.Test(t, func(t *testing.T) {
			e, err := measured(t, sht.Opts{Model: models[row[0]]}, shot, octets(t, row[1]))
			require.NoError(t, err, row)
			require.InDelta(t, number(row[2]), e.Temperature.Celsius(), 1e-4, row)
			require.InDelta(t, number(row[3]), float64(e.Humidity)/float64(physic.PercentRH), 1e-3, row)
		})
	}
	require.Equal(t, 8, seen)
}

// Each of the two checksums is looked at, and what was there before stays.
func TestBothChecksumsAreChecked(t *testing.T) {
	for _, frame := range []string{"66 66 92 66 66 93", "66 66 93 66 66 94", "66 67 93 66 66 93", "66 66 93 26 66 93", "00 00 00 00 00 00", "FF FF FF FF FF FF"} {
		synctest.Test(t, func(t *testing.T) {
			e, err := measured(t, sht.Opts{}, []byte{0x24, 0x00}, octets(t, frame))
			require.ErrorIs(t, err, sht.ErrChecksum, frame)
			require.Zero(t, e, frame)
		})
	}
}

// timed is a bus that notes when it was used.
type timed struct {
	i2c.Bus
	at []time.Time
}

func (b *timed) Tx(addr uint16, w, r []byte) error {
	b.at = append(b.at, time.Now())
	return b.Bus.Tx(addr, w, r)
}

// No read before the longest time that a measurement may take (SHT3x-DIS table 4 with supplies down to
// 2.15 V, SHT4x table 5), and none that holds the clock: command and read are two transactions.
func TestMeasurementsGetTheirTime(t *testing.T) {
	for _, c := range []struct {
		opts sht.Opts
		shot []byte
		wait time.Duration
	}{
		{sht.Opts{Repeatability: sht.High}, []byte{0x24, 0x00}, 15500 * time.Microsecond},
		{sht.Opts{Repeatability: sht.Medium}, []byte{0x24, 0x0B}, 6500 * time.Microsecond},
		{sht.Opts{Repeatability: sht.Low}, []byte{0x24, 0x16}, 4500 * time.Microsecond},
		{sht.Opts{Model: sht.SHT4x, Repeatability: sht.High}, []byte{0xFD}, 8300 * time.Microsecond},
		{sht.Opts{Model: sht.SHT4x, Repeatability: sht.Medium}, []byte{0xF6}, 4500 * time.Microsecond},
		{sht.Opts{Model: sht.SHT4x, Repeatability: sht.Low}, []byte{0xE0}, 1700 * time.Microsecond},
	} {
		synctest.Test(t, func(t *testing.T) {
			ops := append(opening(t, c.opts.Model), i2ctest.IO{Addr: 0x44, W: c.shot}, i2ctest.IO{Addr: 0x44, R: octets(t, "66 66 93 66 66 93")})
			bus := &timed{Bus: &i2ctest.Playback{Ops: ops, DontPanic: true}}
			dev, err := sht.NewI2C(bus, 0x44, &c.opts)
			require.NoError(t, err)
			require.NoError(t, dev.Sense(&physic.Env{}))
			waited := bus.at[len(bus.at)-1].Sub(bus.at[len(bus.at)-2])
			require.GreaterOrEqual(t, waited, c.wait)
			require.Less(t, waited, c.wait+2*time.Millisecond)
		})
	}
}

// silent is a bus on which some commands are not acknowledged.
type silent struct {
	i2c.Bus
	refuses func(w, r []byte) bool
}

var errNack = errors.New("not acknowledged")

func (b silent) Tx(addr uint16, w, r []byte) error {
	if b.refuses(w, r) {
		return errNack
	}
	return b.Bus.Tx(addr, w, r)
}

func TestOpeningProvesThatTheChipIsThere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		none := silent{&i2ctest.Playback{DontPanic: true}, func(_, _ []byte) bool { return true }}
		for _, m := range []sht.Model{sht.SHT3x, sht.SHT4x} {
			_, err := sht.NewI2C(none, 0x44, &sht.Opts{Model: m})
			require.ErrorIs(t, err, errNack)
			require.ErrorContains(t, err, m.String())

			ops := opening(t, m)
			ops[len(ops)-1].R = octets(t, "73 B1 19 EB 07 7B")
			_, err = sht.NewI2C(&i2ctest.Playback{Ops: ops, DontPanic: true}, 0x44, &sht.Opts{Model: m})
			require.ErrorIs(t, err, sht.ErrChecksum)
		}
	})
}

// A chip that rests may refuse to stop; one of the older SHT3x tells no serial number and is known by its
// status (SHT3x-DIS table 17; the answer is recorded in periph devices v3.7.4, hdc302x test).
func TestSHT3xThatRefusesWhatItMay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		status := i2ctest.IO{Addr: 0x44, W: []byte{0xF3, 0x2D}, R: octets(t, "00 00 81")}
		ops := []i2ctest.IO{{Addr: 0x44, W: []byte{0x30, 0x66}}, status}
		may := func(w, _ []byte) bool { return len(w) == 2 && (w[1] == 0x93 || w[1] == 0x82) }
		dev, err := sht.NewI2C(silent{&i2ctest.Playback{Ops: ops, DontPanic: true}, may}, 0x44, nil)
		require.NoError(t, err)
		_, told := dev.Serial()
		require.False(t, told)
		ops[1].R = octets(t, "00 00 80")
		_, err = sht.NewI2C(silent{&i2ctest.Playback{Ops: ops, DontPanic: true}, may}, 0x44, nil)
		require.ErrorIs(t, err, sht.ErrChecksum)
	})
}

func TestWhatCannotBeOpened(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true}
	for _, c := range []struct {
		addr uint16
		opts sht.Opts
	}{
		{0x46, sht.Opts{}}, {0x47, sht.Opts{Model: sht.SHT4x}}, {0x44, sht.Opts{Model: 2}}, {0x44, sht.Opts{Repeatability: 3}},
	} {
		_, err := sht.NewI2C(bus, c.addr, &c.opts)
		require.Error(t, err, c)
	}
	require.Zero(t, bus.Count, "nothing was asked")
}

func TestContractOfADriver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dev, err := sht.NewI2C(&i2ctest.Playback{Ops: opening(t, sht.SHT4x), DontPanic: true}, 0x44, &sht.Opts{Model: sht.SHT4x})
		require.NoError(t, err)
		var e physic.Env
		dev.Precision(&e)
		require.InDelta(t, 175.0/65535, float64(e.Temperature)/float64(physic.Kelvin), 1e-8)
		require.InDelta(t, 125.0/65535, float64(e.Humidity)/float64(physic.PercentRH), 1e-5)
		require.Contains(t, dev.String(), "SHT4x")
		require.NoError(t, dev.Halt())
		_, err = dev.SenseContinuous(time.Second)
		require.Error(t, err)
		require.Error(t, dev.Sense(&e), "the bus has nothing more to say")

		dev, err = sht.NewI2C(&i2ctest.Playback{Ops: opening(t, sht.SHT3x), DontPanic: true}, 0x44, nil)
		require.NoError(t, err)
		dev.Precision(&e)
		require.InDelta(t, 100.0/65535, float64(e.Humidity)/float64(physic.PercentRH), 1e-5)
	})
}
