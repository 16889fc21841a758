package chips_test

import (
	"errors"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/aht20"
	"periph.io/x/devices/v3/am2320"
	"periph.io/x/devices/v3/bmxx80"
	"periph.io/x/devices/v3/mcp9808"
	"periph.io/x/devices/v3/tmp102"

	"pourward/sensors/simulated"
)

// What the drivers of periph devices v3.7.4 do by themselves, without the guard. These tests keep the
// reasons for the guard: when one fails after an update of the drivers, a part of it may go.

// benched puts a simulated chip on a bus.
func benched[C simulated.Chip](addr uint16, c C) (*simulated.Bus, C) {
	bus := simulated.NewBus("board")
	bus.Attach(addr, c)
	return bus, c
}

func air() simulated.Air { return benchAir }

// senses makes one measurement with a driver and returns how long it took.
func senses(dev interface{ Sense(*physic.Env) error }) (physic.Env, time.Duration, error) {
	e := physic.Env{Temperature: 1, Humidity: 1, Pressure: 1}
	began := time.Now()
	err := dev.Sense(&e)
	return e, time.Since(began), err
}

func TestDriverOfBME280LosesTheCause(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(bmeAddr, simulated.NewBME280(air))
		chip.Break(simulated.Nack)
		_, err := bmxx80.NewI2C(bus, bmeAddr, &bmxx80.DefaultOpts)
		require.ErrorContains(t, err, ": ")
		require.False(t, errors.Is(err, syscall.Errno(121)))
		chip.Break(simulated.None)
		dev, err := bmxx80.NewI2C(bus, bmeAddr, &bmxx80.DefaultOpts)
		require.NoError(t, err)
		chip.Break(simulated.Nack)
		e, _, err := senses(dev)
		require.Error(t, err)
		require.False(t, errors.Is(err, syscall.Errno(121)), "only its text is left")
		require.EqualValues(t, 1, e.Temperature, "it is left as it was")
	})
}

// patient is a bus that ends a driver that would go on for ever.
type patient struct {
	*simulated.Bus
	left int
}

var errPatience = errors.New("out of patience")

func (p *patient) Tx(addr uint16, w, r []byte) error {
	if p.left--; p.left < 0 {
		return errPatience
	}
	return p.Bus.Tx(addr, w, r)
}

func TestDriverOfBME280AsksForEver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(bmeAddr, simulated.NewBME280(air))
		p := &patient{bus, 100_000}
		dev, err := bmxx80.NewI2C(p, bmeAddr, &bmxx80.DefaultOpts)
		require.NoError(t, err)
		chip.Break(simulated.Ones)
		_, _, err = senses(dev)
		require.ErrorContains(t, err, errPatience.Error(), "a hundred thousand questions and no end")
	})
}

func TestDriverOfAHT20(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x38, simulated.NewAHT20(air))
		dev, err := aht20.NewI2C(bus, nil)
		require.NoError(t, err)
		chip.LosePower()
		_, _, err = senses(dev)
		var restarted *aht20.NotInitializedError
		require.ErrorAs(t, err, &restarted)
		require.NoError(t, dev.Initialize())
		_, _, err = senses(dev)
		require.NoError(t, err, "it can be brought back")

		chip.Break(simulated.Nack)
		_, _, err = senses(dev)
		require.ErrorIs(t, err, syscall.Errno(121), "the cause is kept")
		for trouble, calculated := range map[simulated.Trouble]uint8{simulated.Zeros: 0x6A, simulated.Ones: 0x22} {
			chip.Break(trouble)
			_, err := aht20.NewI2C(bus, nil)
			require.NoError(t, err, "%s: opening proves nothing", trouble)
			_, _, err = senses(dev)
			var corrupt *aht20.DataCorruptionError
			require.ErrorAs(t, err, &corrupt)
			require.Equal(t, calculated, corrupt.Calculated, trouble)
		}
		chip.Break(simulated.Busy)
		e, took, err := senses(dev)
		var late *aht20.ReadTimeoutError
		require.ErrorAs(t, err, &late)
		require.InDelta(t, 235, took.Milliseconds(), 10)
		require.EqualValues(t, 1, e.Temperature, "it is left as it was")
	})
}

func TestDriverOfAM2320(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x5C, simulated.NewAM2320(air))
		chip.SetStretching(true)
		dev, err := am2320.NewI2C(bus, 0x5C)
		require.NoError(t, err)
		chip.SetRegisters([]byte{0x02, 0x8C}, []byte{0x80, 0x65})
		e, _, err := senses(dev)
		require.NoError(t, err)
		require.InDelta(t, -3266.7, e.Temperature.Celsius(), 1e-6, "-10.1 °C (product manual, 8.3.2)")
		require.InDelta(t, 65.2, float64(e.Humidity)/float64(physic.PercentRH), 1e-6)

		chip.Break(simulated.Nack)
		e, took, err := senses(dev)
		require.ErrorIs(t, err, syscall.Errno(121))
		require.Equal(t, 20*time.Second+500*time.Millisecond, took)
		require.Zero(t, e.Temperature, "0 K beside the error")

		chip.Break(simulated.None)
		chip.SetStretching(false)
		_, took, err = senses(dev)
		require.Error(t, err, "it does not pause between question and answer")
		require.GreaterOrEqual(t, took, 20*time.Second)
	})
}

// What an AM2320 answers is as old as the last question.
func TestDriverOfAM2320GivesTheValueBefore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := benchAir
		bus, chip := benched(0x5C, simulated.NewAM2320(func() simulated.Air { return now }))
		chip.SetStretching(true)
		dev, err := am2320.NewI2C(bus, 0x5C)
		require.NoError(t, err)
		time.Sleep(time.Hour)
		now.TempC = 5
		e, _, err := senses(dev)
		require.NoError(t, err)
		require.InDelta(t, benchAir.TempC, e.Temperature.Celsius(), 1e-6)
		time.Sleep(time.Hour)
		e, _, err = senses(dev)
		require.NoError(t, err)
		require.InDelta(t, 5, e.Temperature.Celsius(), 1e-6)
	})
}

func TestDriverOfMCP9808(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x18, simulated.NewMCP9808(func() float64 { return benchAir.TempC }))
		dev, err := mcp9808.New(bus, &mcp9808.DefaultOpts)
		require.NoError(t, err)
		for trouble, tempC := range map[simulated.Trouble]float64{simulated.Ones: -0.0625, simulated.Zeros: 0, simulated.BrownOut: 0} {
			chip.Break(trouble)
			e, _, err := senses(dev)
			require.NoError(t, err, trouble)
			require.Equal(t, tempC, e.Temperature.Celsius(), trouble)
		}
		chip.Break(simulated.Nack)
		e, _, err := senses(dev)
		require.EqualError(t, err, "failed to read ambient temperature", "the cause is lost")
		require.Zero(t, e.Temperature, "0 K beside the error")
		out, err := dev.SenseContinuous(time.Second)
		require.NoError(t, err)
		e = <-out
		require.InDelta(t, -273.15, e.Temperature.Celsius(), 1e-9, "and 0 K for a measurement")
		chip.Break(simulated.None)
		go func() {
			for range out {
			}
		}()
		require.NoError(t, dev.Halt())
		synctest.Wait()
	})
}

func TestDriverOfTMP102(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := benched(0x48, simulated.NewTMP102(func() float64 { return benchAir.TempC }))
		dev, err := tmp102.NewI2C(bus, 0x48, nil)
		require.NoError(t, err)
		for trouble, tempC := range map[simulated.Trouble]float64{simulated.Ones: -0.0625, simulated.Zeros: 0, simulated.BrownOut: 0} {
			chip.Break(trouble)
			e, _, err := senses(dev)
			require.NoError(t, err, trouble)
			require.Equal(t, tempC, e.Temperature.Celsius(), trouble)
		}
		chip.Break(simulated.Nack)
		e, _, err := senses(dev)
		require.ErrorIs(t, err, syscall.Errno(121))
		require.EqualValues(t, 1, e.Temperature, "it is left as it was")
		require.Zero(t, dev.ReadConfiguration(), "an error is no error to it")

		chip.Break(simulated.None)
		time.Sleep(time.Second)
		require.NoError(t, dev.Halt())
		require.Zero(t, dev.ReadConfiguration()&0x0100, "halted, it is not shut down")

		chip.SetExtended()
		dev, err = tmp102.NewI2C(bus, 0x48, nil)
		require.NoError(t, err)
		e, _, err = senses(dev)
		require.NoError(t, err)
		require.InDelta(t, benchAir.TempC/2, e.Temperature.Celsius(), 0.07, "13-bit format: half of the temperature")
	})
}
