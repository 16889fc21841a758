package simulated_test

import (
	"fmt"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bmxx80"
	"periph.io/x/devices/v3/ds248x"
	"pgregory.net/rapid"

	"pourward/sensors"
	"pourward/sensors/simulated"
)

// What the real driver computes from the chip's registers is the air that was put in.
func TestBME280ShowsTheAir(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		air := simulated.Air{TempC: rapid.Float64Range(-20, 60).Draw(rt, "temp"), Humidity: rapid.Float64Range(0.05, 0.97).Draw(rt, "rh")}
		synctest.Test(t, func(*testing.T) {
			bus := simulated.NewBus("board")
			bus.Attach(0x77, simulated.NewBME280(func() simulated.Air { return air }))
			dev, err := bmxx80.NewI2C(bus, 0x77, &bmxx80.DefaultOpts)
			require.NoError(rt, err)
			var e physic.Env
			require.NoError(rt, dev.Sense(&e))
			require.InDelta(rt, air.TempC, e.Temperature.Celsius(), 0.0051)
			require.InDelta(rt, air.Humidity, float64(e.Humidity)/float64(100*physic.PercentRH), 0.0005)
		})
	})
}

// Registers after power-on and after the reset word (BST-BME280-DS002, table 18 and 5.4.2).
func TestBME280Registers(t *testing.T) {
	bus := simulated.NewBus("board")
	bus.Attach(0x76, simulated.NewBME280(func() simulated.Air { return simulated.Air{TempC: 20, Humidity: 0.5} }))
	read := func(reg byte, n int) []byte {
		b := make([]byte, n)
		require.NoError(t, bus.Tx(0x76, []byte{reg}, b))
		return b
	}
	powerOn := []byte{0x80, 0, 0, 0x80, 0, 0, 0x80, 0}
	require.Equal(t, []byte{0x60}, read(0xD0, 1))
	require.Equal(t, powerOn, read(0xF7, 8))
	require.NoError(t, bus.Tx(0x76, []byte{0xF4, 0x6D}, nil), "forced mode, humidity still off")
	data := read(0xF7, 8)
	require.NotEqual(t, powerOn[3:6], data[3:6])
	require.Equal(t, powerOn[6:], data[6:])
	require.Equal(t, []byte{0x6C}, read(0xF4, 1), "it falls asleep by itself")
	require.NoError(t, bus.Tx(0x76, []byte{0xF2, 0x03, 0xF4, 0x6D}, nil), "pairs of register and value")
	require.NotEqual(t, powerOn[6:], read(0xF7, 8)[6:])
	require.NoError(t, bus.Tx(0x76, []byte{0xE0, 0xB6}, nil))
	require.Equal(t, powerOn, read(0xF7, 8))
	require.Equal(t, []byte{0, 0, 0}, read(0xF2, 3))
	bus.Attach(0x76, simulated.NewBMP280(func() simulated.Air { return simulated.Air{TempC: 20, Humidity: 0.5} }))
	require.Equal(t, []byte{0x58}, read(0xD0, 1), "BST-BMP280-DS001, 4.3.1")
}

// The bytes that periph's bmxx80 test recorded from a chip are those the simulated one has for the
// same calibration.
func TestBME280Calibration(t *testing.T) {
	bus := simulated.NewBus("board")
	chip := simulated.NewBME280(func() simulated.Air { return simulated.Air{} })
	chip.SetTrim(simulated.Trim{T1: 28176, T2: 26220, T3: 50, P1: 38237, P2: -10824, P3: 3024, P4: 7799, P5: -99, P6: -7,
		P7: 9900, P8: -10230, P9: 4285, H1: 75, H2: 366, H3: 0, H4: 309, H5: 0, H6: 30})
	bus.Attach(0x76, chip)
	low := make([]byte, 26)
	require.NoError(t, bus.Tx(0x76, []byte{0x88}, low))
	want := []byte{0x10, 0x6e, 0x6c, 0x66, 0x32, 0x0, 0x5d, 0x95, 0xb8, 0xd5, 0xd0, 0xb, 0x77, 0x1e, 0x9d, 0xff, 0xf9, 0xff, 0xac, 0x26, 0xa, 0xd8, 0xbd, 0x10, 0x0, 0x4b}
	want[12], want[13] = 7799&0xFF, 7799>>8
	require.Equal(t, want, low)
	high := make([]byte, 7)
	require.NoError(t, bus.Tx(0x76, []byte{0xE1}, high))
	require.Equal(t, []byte{0x6e, 0x1, 0x0, 0x13, 0x5, 0x0, 0x1e}, high)
}

func TestBusTroubles(t *testing.T) {
	bus := simulated.NewBus("board")
	bus.Attach(0x76, simulated.NewBME280(func() simulated.Air { return simulated.Air{} }))
	r := make([]byte, 2)
	require.ErrorIs(t, bus.Tx(0x40, []byte{0}, r), syscall.Errno(121), "nobody there")
	for trouble, errno := range map[simulated.Trouble]syscall.Errno{
		simulated.Nack: 121, simulated.Gone: syscall.ENXIO, simulated.TimedOut: syscall.ETIMEDOUT,
	} {
		bus.Break(trouble)
		require.ErrorIs(t, bus.Tx(0x76, []byte{0xD0}, r), errno)
	}
	for trouble, want := range map[simulated.Trouble][]byte{
		simulated.None: {0x60, 0}, simulated.Zeros: {0, 0}, simulated.Ones: {0xFF, 0xFF}, simulated.Flips: {0x68, 0},
	} {
		bus.Break(trouble)
		require.NoError(t, bus.Tx(0x76, []byte{0xD0}, r))
		require.Equal(t, want, r, trouble)
	}
	require.Equal(t, "brown-out", simulated.BrownOut.String())
	require.Equal(t, "trouble(99)", simulated.Trouble(99).String())
	require.NoError(t, bus.SetSpeed(physic.MegaHertz))
}

func TestHangEndsWithTheTrouble(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := simulated.NewBus("board")
		bus.Attach(0x76, simulated.NewBME280(func() simulated.Air { return simulated.Air{} }))
		bus.Break(simulated.Hang)
		ended := make(chan error)
		go func() { ended <- bus.Tx(0x76, []byte{0xD0}, make([]byte, 1)) }()
		time.Sleep(time.Hour)
		select {
		case <-ended:
			require.Fail(t, "it returned")
		default:
		}
		bus.Break(simulated.None)
		require.NoError(t, <-ended)
	})
}

// The search of the real bridge driver (Maxim application note 187) finds any set of chips.
func TestBridgeSearch(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		synctest.Test(t, func(*testing.T) {
			line := simulated.NewLine(sensors.RealClock{})
			bus := simulated.NewBus("board")
			bus.Attach(0x18, simulated.NewBridge(line))
			bridge, err := ds248x.New(bus, 0x18, &ds248x.DefaultOpts)
			require.NoError(rt, err)
			require.Contains(rt, bridge.String(), "DS2482-100")
			var want []onewire.Address
			for _, serial := range rapid.SliceOfNDistinct(rapid.Uint64Range(0, 1<<48-1), 1, 6, rapid.ID).Draw(rt, "serials") {
				chip := simulated.NewDS18B20(simulated.ROM(serial), func() float64 { return 20 })
				line.Attach(chip)
				want = append(want, chip.Address())
			}
			found, err := bridge.Search(false)
			require.NoError(rt, err)
			require.ElementsMatch(rt, want, found)
			direct, err := line.Search(false)
			require.NoError(rt, err)
			require.ElementsMatch(rt, want, direct)
		})
	})
}

// Several chips that answer at once pull the line together: the result is the logical and.
func TestChipsThatSendTogether(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		line := simulated.NewLine(sensors.RealClock{})
		for i, temp := range []float64{10, 20} {
			line.Attach(simulated.NewDS18B20(simulated.ROM(uint64(i)), func() float64 { return temp }))
		}
		require.NoError(t, line.Tx([]byte{0xCC, 0x44}, nil, onewire.StrongPullup))
		time.Sleep(time.Second)
		pad := make([]byte, 9)
		require.NoError(t, line.Tx([]byte{0xCC, 0xBE}, pad, onewire.WeakPullup))
		require.EqualValues(t, 0x00A0&0x0140, int(pad[0])|int(pad[1])<<8, fmt.Sprintf("% X", pad))
	})
}
