package chips_test

import (
	"context"
	"encoding/csv"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bmxx80"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

// table reads a file of testdata as one map per row.
func table(t *testing.T, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// load gives a simulated chip the calibration and the raw values of a row.
func load(t *testing.T, chip *simulated.BME280, row map[string]string) {
	n := func(column string) int { return int(number(t, row[column])) }
	chip.SetTrim(simulated.Trim{
		T1: uint16(n("t1")), T2: int16(n("t2")), T3: int16(n("t3")),
		P1: uint16(n("p1")), P2: int16(n("p2")), P3: int16(n("p3")), P4: int16(n("p4")), P5: int16(n("p5")),
		P6: int16(n("p6")), P7: int16(n("p7")), P8: int16(n("p8")), P9: int16(n("p9")),
		H1: uint8(n("h1")), H2: int16(n("h2")), H3: uint8(n("h3")), H4: int16(n("h4")), H5: int16(n("h5")), H6: int8(n("h6")),
	})
	chip.SetRaw(&simulated.Raw{Pressure: uint32(n("adc_p")), Temp: uint32(n("adc_t")), Humidity: uint16(n("adc_h"))})
}

// The simulated chip, the real driver and the published examples agree.
func TestBME280PublishedExamples(t *testing.T) {
	for _, row := range table(t, "testdata/bme280.csv") {
		synctest.Test(t, func(t *testing.T) {
			bus, chip := bmeOnBus()
			load(t, chip, row)
			dev, err := bmxx80.NewI2C(bus, bmeAddr, &bmxx80.DefaultOpts)
			require.NoError(t, err)
			var e physic.Env
			require.NoError(t, dev.Sense(&e))
			require.InDelta(t, number(t, row["temp_c"]), e.Temperature.Celsius(), number(t, row["temp_tol"]), row["name"])
			require.InDelta(t, number(t, row["pressure_pa"]), float64(e.Pressure)/float64(physic.Pascal), number(t, row["pressure_tol"]), row["name"])
			require.InDelta(t, number(t, row["humidity_pct"]), float64(e.Humidity)/float64(physic.PercentRH), number(t, row["humidity_tol"]), row["name"])

			s, err := sense(chips.BME280(bus, bmeAddr))
			require.NoError(t, err)
			require.InDelta(t, number(t, row["temp_c"]), s.TempC, number(t, row["temp_tol"]), row["name"])
			require.InDelta(t, number(t, row["humidity_pct"])/100, s.Humidity, number(t, row["humidity_tol"])/100, row["name"])
		})
	}
}

// Without the guard the driver takes these faults for measurements. The figures are what the data
// sheet's formulas (BST-BME280-DS002, 4.2.3) make of the false bytes.
func TestBME280DriverAloneIsFooled(t *testing.T) {
	example := table(t, "testdata/bme280.csv")[0]
	for name, c := range map[string]struct {
		spoil          func(*simulated.BME280)
		tempC, percent float64
	}{
		"zeros":     {func(c *simulated.BME280) { c.Break(simulated.Zeros) }, -140.88, 0},
		"restarted": {func(c *simulated.BME280) { c.LosePower() }, 25.08, 73.442},
	} {
		synctest.Test(t, func(t *testing.T) {
			bus, chip := bmeOnBus()
			load(t, chip, example)
			dev, err := bmxx80.NewI2C(bus, bmeAddr, &bmxx80.DefaultOpts)
			require.NoError(t, err)
			c.spoil(chip)
			var e physic.Env
			require.NoError(t, dev.Sense(&e), name)
			require.InDelta(t, c.tempC, e.Temperature.Celsius(), 0.005, name)
			require.InDelta(t, c.percent, float64(e.Humidity)/float64(physic.PercentRH), 0.01, name)
		})
	}
}

// faultCases are what can happen to a BME280; each ends in an error of its kind.
func bmeFaults() map[string]struct {
	spoil func(*simulated.BME280)
	kind  sensors.Fault
	errno syscall.Errno // 0: none
} {
	type row = struct {
		spoil func(*simulated.BME280)
		kind  sensors.Fault
		errno syscall.Errno
	}
	breaks := func(t simulated.Trouble) func(*simulated.BME280) {
		return func(c *simulated.BME280) { c.Break(t) }
	}
	return map[string]row{
		// Linux kernel documentation, i2c/fault-codes
		"not acknowledged":    {breaks(simulated.Nack), sensors.NoResponse, syscall.Errno(121)},
		"address unknown":     {breaks(simulated.Gone), sensors.NoResponse, syscall.ENXIO},
		"clock held":          {breaks(simulated.TimedOut), sensors.Timeout, syscall.ETIMEDOUT},
		"data line shorted":   {breaks(simulated.Zeros), sensors.BusError, 0},
		"data line open":      {breaks(simulated.Ones), sensors.NoResponse, 0},  // the driver alone asks for ever
		"never done":          {breaks(simulated.Busy), sensors.Timeout, 0},     // so it does here
		"a bit flipped":       {breaks(simulated.Flips), sensors.OtherFault, 0}, // seen as another chip's calibration
		"restarted by itself": {(*simulated.BME280).LosePower, sensors.PowerOn, 0},
		"temperature skipped": {func(c *simulated.BME280) {
			c.SetRaw(&simulated.Raw{Pressure: 0x80000, Temp: 0x80000, Humidity: 30987}) // data sheet 4: value of a skipped channel
		}, sensors.PowerOn, 0},
	}
}

func TestBME280Faults(t *testing.T) {
	for name, c := range bmeFaults() {
		synctest.Test(t, func(t *testing.T) {
			bus, chip := bmeOnBus()
			p, err := chips.BME280(bus, bmeAddr)(t.Context())
			require.NoError(t, err)
			c.spoil(chip)
			before, began := bus.Transactions(), time.Now()
			_, err = p.Sense(t.Context())
			require.Error(t, err, name)
			require.Equal(t, c.kind, sensors.FaultOf(err), "%s: %v", name, err)
			if c.errno != 0 {
				require.ErrorIs(t, err, c.errno, name)
			}
			require.LessOrEqual(t, bus.Transactions()-before, 64, name)
			require.Less(t, time.Since(began), 100*time.Millisecond, name)

			chip.Break(simulated.None)
			chip.SetRaw(nil)
			s, err := sense(chips.BME280(bus, bmeAddr))
			require.NoError(t, err, "%s: opened afresh it measures again", name)
			require.InDelta(t, benchAir.TempC, s.TempC, 0.011, name)
			require.InDelta(t, benchAir.Humidity, s.Humidity, 0.001, name)
		})
	}
}

func TestBME280FaultsWhileOpening(t *testing.T) {
	for trouble, kind := range map[simulated.Trouble]sensors.Fault{
		simulated.Nack:     sensors.NoResponse,
		simulated.Gone:     sensors.NoResponse,
		simulated.TimedOut: sensors.Timeout,
		simulated.Zeros:    sensors.BusError,
		simulated.Ones:     sensors.NoResponse,
		simulated.Flips:    sensors.OtherFault, // chip id 0x68 belongs to another chip
	} {
		bus, chip := bmeOnBus()
		chip.Break(trouble)
		_, err := chips.BME280(bus, bmeAddr)(t.Context())
		require.Error(t, err, trouble)
		require.Equal(t, kind, sensors.FaultOf(err), "%s: %v", trouble, err)
		require.ErrorContains(t, err, "open BME280 at 0x76 on board")
	}
	bus, _ := bmeOnBus()
	_, err := chips.BME280(bus, 0x40)(t.Context())
	require.Error(t, err, "the chip has two addresses")
}

func TestBME280MeasurementEndsWithItsContext(t *testing.T) {
	bus, _ := bmeOnBus()
	p, err := chips.BME280(bus, bmeAddr)(t.Context())
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	before := bus.Transactions()
	_, err = p.Sense(ctx)
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, before, bus.Transactions())
}

// A call that does not return is the business of the Poller.
func TestBME280ThatHangsIsSupervised(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, chip := bmeOnBus()
		chip.Break(simulated.Hang)
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		out, ended := make(chan sensors.Reading), make(chan error)
		p := &sensors.Poller{Probes: []sensors.Polled{{Name: "bench", Open: chips.BME280(bus, bmeAddr)}}}
		go func() { ended <- p.Run(ctx, out) }()
		r := <-out
		require.Equal(t, sensors.Timeout, sensors.FaultOf(r.Err))
		chip.Break(simulated.None)
		for r.Err != nil {
			r = <-out
		}
		require.InDelta(t, benchAir.TempC, r.Temp.Value, 0.011)
		cancel()
		require.ErrorIs(t, <-ended, context.Canceled)
	})
}

func TestChipOfAKernelDriverIsRefused(t *testing.T) {
	sys := t.TempDir()
	device := filepath.Join(sys, "1-0076")
	require.NoError(t, os.MkdirAll(device, 0o755))
	require.NoError(t, os.Symlink("../../../bus/i2c/drivers/bmp280", filepath.Join(device, "driver")))
	bus, _ := bmeOnBus()
	owned := ownedBus{bus, sys}
	_, err := chips.BME280(owned, 0x76)(t.Context())
	require.ErrorContains(t, err, `the kernel driver "bmp280" owns it`)
	_, err = chips.BME280(owned, 0x77)(t.Context())
	require.NotContains(t, err.Error(), "kernel", "the other address is free")
}

// ownedBus is a simulated bus with the ownership of a real board's.
type ownedBus struct {
	*simulated.Bus
	sys string
}

func (b ownedBus) Owner(addr uint16) string { return chips.DriverOf(b.sys, 1, addr) }

func TestBMP280HasNoHumidity(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, _ := benched(bmeAddr, simulated.NewBMP280(air))
		s, err := sense(chips.BME280(bus, bmeAddr))
		require.NoError(t, err)
		require.InDelta(t, benchAir.TempC, s.TempC, 0.011)
		require.True(t, math.IsNaN(s.Humidity))
	})
}

func TestBMP180IsRefused(t *testing.T) {
	bus := otherChip{simulated.NewBus("board"), 0x55} // BMP180 data sheet, table 5
	bus.Attach(0x77, simulated.NewBME280(func() simulated.Air { return benchAir }))
	_, err := chips.BME280(bus, 0x77)(t.Context())
	require.ErrorContains(t, err, "BMP180")
}

// otherChip makes a chip give the id of another kind.
type otherChip struct {
	*simulated.Bus
	id byte
}

func (b otherChip) Tx(addr uint16, w, r []byte) error {
	err := b.Bus.Tx(addr, w, r)
	if len(w) == 1 && w[0] == 0xD0 && err == nil {
		r[0] = b.id
	}
	return err
}

func TestErrorsOfTheBoardKeepTheirCause(t *testing.T) {
	_, err := chips.OpenBoard("/dev/spidev0.0", "")
	require.ErrorContains(t, err, "/dev/i2c-1")
	_, err = chips.OpenBoard(filepath.Join(t.TempDir(), "i2c-1"), "")
	require.True(t, errors.Is(err, os.ErrNotExist))
	require.ErrorContains(t, err, "enable the bus")
}
