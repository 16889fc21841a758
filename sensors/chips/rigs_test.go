package chips_test

import (
	"encoding/hex"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

// rig is one kind of chip on a bench: simulated, wired up, ready to be opened.
type rig struct {
	name  string
	addr  uint16
	chip  func(air func() simulated.Air) part
	open  func(bus i2c.Bus, addr uint16) sensors.Opener
	swaps uint16 // another address where a twin can sit that its number tells from it; 0: none
}

// part is a simulated chip.
type part interface {
	simulated.Chip
	LosePower()
}

func rigs() []rig {
	thermometer := func(air func() simulated.Air) func() float64 { return func() float64 { return air().TempC } }
	serial := uint64(0x0001_0000_0000)
	next := func() uint64 { serial += 0x0001_0001_0001; return serial }
	return []rig{
		{"BME280", 0x76, func(air func() simulated.Air) part { return calibrated(simulated.NewBME280(air), next()) }, chips.BME280, 0x77},
		{"BMP280", 0x77, func(air func() simulated.Air) part { return calibrated(simulated.NewBMP280(air), next()) }, chips.BME280, 0x76},
		{"SHT3x", 0x44, func(air func() simulated.Air) part { return simulated.NewSHT3x(uint32(next()), air) }, chips.SHT3x, 0x45},
		{"SHT4x", 0x44, func(air func() simulated.Air) part { return simulated.NewSHT4x(uint32(next()), air) }, chips.SHT4x, 0x46},
		{"HDC302x", 0x44, func(air func() simulated.Air) part { return simulated.NewHDC302x(next(), air) }, chips.HDC302x, 0x47},
		{"SCD4x", 0x62, func(air func() simulated.Air) part { return simulated.NewSCD4x(next(), air) }, chips.SCD4x, 0},
		{"AHT20", 0x38, func(air func() simulated.Air) part { return simulated.NewAHT20(air) }, chips.AHT20, 0},
		{"AM2320", 0x5C, func(air func() simulated.Air) part { return simulated.NewAM2320(air) }, chips.AM2320, 0},
		{"MCP9808", 0x18, func(air func() simulated.Air) part { return simulated.NewMCP9808(thermometer(air)) }, chips.MCP9808, 0},
		{"TMP102", 0x48, func(air func() simulated.Air) part { return simulated.NewTMP102(thermometer(air)) }, chips.TMP102, 0},
	}
}

// calibrated gives a chip calibration words that differ a little from one to another, as those of real
// chips do.
func calibrated(c *simulated.BME280, n uint64) *simulated.BME280 {
	c.SetTrim(simulated.Trim{
		T1: 28176 + uint16(n%16), T2: 26220, T3: 350,
		P1: 38237, P2: -10824, P3: 3024, P4: 7799, P5: -99, P6: -7, P7: 9900, P8: -10230, P9: 4285,
		H1: 75, H2: 366, H3: 0, H4: 309, H5: 0, H6: 30,
	})
	return c
}

func rigOf(t *testing.T, name string) rig {
	t.Helper()
	for _, r := range rigs() {
		if r.name == name {
			return r
		}
	}
	require.Fail(t, "no such chip", name)
	return rig{}
}

// on puts the rig's chip on a new bus.
func (r rig) on(air func() simulated.Air) (*simulated.Bus, part) {
	bus := simulated.NewBus("board")
	chip := r.chip(air)
	bus.Attach(r.addr, chip)
	return bus, chip
}

// accuracy returns what a chip may be wrong by: °C and, NaN where it has none, a ratio.
func accuracy(t *testing.T, name string) (tempC, humidity float64) {
	t.Helper()
	for _, row := range table(t, "testdata/accuracy.csv") {
		if row["chip"] != name {
			continue
		}
		humidity = math.NaN()
		if row["humidity_pct"] != "" {
			humidity = number(t, row["humidity_pct"]) / 100
		}
		return number(t, row["temp_c"]), humidity
	}
	require.Fail(t, "no accuracy of", name)
	return 0, 0
}

func octets(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	require.NoError(t, err)
	return b
}

// weather is air that is never the same for long, so that an old value shows.
func weather(begin time.Time) func(time.Time) simulated.Air {
	return func(at time.Time) simulated.Air {
		turn := math.Sin(2 * math.Pi * at.Sub(begin).Hours())
		return simulated.Air{TempC: 18 + 4*turn, Humidity: 0.5 + 0.1*turn}
	}
}
