package chips_test

import (
	"math"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/onewire"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/chips/sht"
	"pourward/sensors/simulated"
)

// Checksums that others published or recorded, by the code that looks at them. That of the Modbus
// protocol is looked at inside the package; see [TestModbusChecksums] there.
func TestPublishedChecksums(t *testing.T) {
	algorithms := map[string]func([]byte) byte{"words": sht.Checksum, "maxim": onewire.CalcCRC}
	for _, row := range table(t, "testdata/checksums.csv") {
		if checksum, ok := algorithms[row["algorithm"]]; ok {
			require.Equal(t, octets(t, row["crc"])[0], checksum(octets(t, row["bytes"])), row["source"])
		}
	}
	require.Equal(t, onewire.Address(0x740000070E41AC28), simulated.ROM(0x070E41AC), "periph devices v3.7.4, ds18b20 test")
}

// answers makes a simulated chip answer the bytes of a published example.
func answers(c simulated.Chip, frame []byte) {
	switch c := c.(type) {
	case interface{ SetFrame([]byte) }:
		c.SetFrame(frame)
	case interface{ SetRaw(*uint16) }:
		raw := uint16(frame[0])<<8 | uint16(frame[1])
		c.SetRaw(&raw)
	case *simulated.AM2320:
		c.SetRegisters(frame[:2], frame[2:])
	}
}

// What data sheets give for an answer of the chip is what comes out of guard and driver.
func TestPublishedFrames(t *testing.T) {
	for _, row := range table(t, "testdata/frames.csv") {
		synctest.Test(t, func(t *testing.T) {
			r := rigOf(t, row["chip"])
			bus, chip := r.on(func() simulated.Air { return benchAir })
			answers(chip, octets(t, row["frame"]))
			s, err := sense(r.open(bus, r.addr))
			require.NoError(t, err, row)
			tol := number(t, row["tol"])
			require.InDelta(t, number(t, row["temp_c"]), s.TempC, tol, row)
			if row["humidity_pct"] == "" {
				require.True(t, math.IsNaN(s.Humidity), row)
				return
			}
			require.InDelta(t, number(t, row["humidity_pct"])/100, s.Humidity, tol/100+1e-7, row)
		})
	}
}

// Every chip shows the air it is in, to the width of its own steps.
func TestEveryChipMeasuresTheAir(t *testing.T) {
	for _, r := range rigs() {
		for _, air := range []simulated.Air{benchAir, {TempC: -7.3, Humidity: 0.81}, {TempC: 0, Humidity: 0.3}, {TempC: 41, Humidity: 0.12}} {
			synctest.Test(t, func(t *testing.T) {
				bus, _ := r.on(func() simulated.Air { return air })
				s, err := sense(r.open(bus, r.addr))
				require.NoError(t, err, r.name)
				require.InDelta(t, air.TempC, s.TempC, 0.126, r.name)
				if !math.IsNaN(s.Humidity) {
					require.InDelta(t, air.Humidity, s.Humidity, 0.001, r.name)
				}
			})
		}
	}
}

// Answers with a right checksum that are no measurement.
func TestAnswersThatAreNoMeasurement(t *testing.T) {
	for _, c := range []struct {
		chip, frame string
		kind        sensors.Fault
	}{
		{"HDC302x", "00 00 81 00 00 81", sensors.PowerOn}, // TI E2E forum, thread 1330415: first reading after power-on
		{"SHT3x", "FF FF AC FF FF AC", sensors.PowerOn},
		{"SHT4x", "00 00 81 00 00 81", sensors.PowerOn},
		{"SHT3x", "66 66 93 66 66 94", sensors.BadChecksum},
		{"SHT3x", "66 66 92 66 66 93", sensors.BadChecksum},
		{"AHT20", "18 75 52 05 8E 40 7E", sensors.BadChecksum}, // periph devices v3.7.4, aht20 test
		{"AM2320", "00 00 00 00", sensors.PowerOn},
		{"AM2320", "02 8C 7F FF", sensors.OutOfRange},
		{"AM2320", "02 8C 81 91", sensors.OutOfRange}, // −40.1 °C
		{"AM2320", "02 8C 03 21", sensors.OutOfRange}, // 80.1 °C
	} {
		synctest.Test(t, func(t *testing.T) {
			r := rigOf(t, c.chip)
			bus, chip := r.on(func() simulated.Air { return benchAir })
			answers(chip, octets(t, c.frame))
			_, err := sense(r.open(bus, r.addr))
			require.Error(t, err, c)
			require.Equal(t, c.kind, sensors.FaultOf(err), "%v: %v", c, err)
		})
	}
}

// Every temperature that the AM2320 can send, in both ways of writing those below zero, comes out right;
// nothing else comes out at all.
func TestEveryTemperatureOfAM2320(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := simulated.NewAM2320(func() simulated.Air { return benchAir })
		bus := simulated.NewBus("board")
		bus.Attach(0x5C, chip)
		p, err := chips.AM2320(bus, 0x5C)(t.Context())
		require.NoError(t, err)
		want := map[uint16]float64{}
		for tenths := -400; tenths <= 800; tenths++ {
			want[uint16(int16(tenths))] = float64(tenths) / 10
			if tenths <= 0 {
				want[0x8000|uint16(-tenths)] = float64(tenths) / 10
			}
		}
		for raw := 0; raw < 1<<16; raw++ {
			if _, ok := want[uint16(raw)]; !ok && raw%97 != 0 {
				continue
			}
			chip.SetRegisters([]byte{0x02, 0x8C}, []byte{byte(raw >> 8), byte(raw)})
			s, err := p.Sense(t.Context())
			if tempC, ok := want[uint16(raw)]; ok {
				require.NoError(t, err, "%#04x", raw)
				require.InDelta(t, tempC, s.TempC, 1e-9, "%#04x", raw)
				continue
			}
			require.Equal(t, sensors.OutOfRange, sensors.FaultOf(err), "%#04x", raw)
		}
	})
}
