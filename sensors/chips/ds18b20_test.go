package chips_test

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/devices/v3/ds18b20"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

func TestDS18B20DataSheetTable(t *testing.T) {
	for _, row := range table(t, "testdata/ds18b20.csv") {
		synctest.Test(t, func(t *testing.T) {
			raw, err := strconv.ParseUint(row["raw"], 16, 16)
			require.NoError(t, err)
			line, all := thermometersOnLine(float64(int16(raw)) / 16)
			s, err := sense(chips.NewWire(chips.Direct(line), sensors.RealClock{}).DS18B20(all[0].Address()))
			require.NoError(t, err, row)
			require.Equal(t, number(t, row["temp_c"]), s.TempC, row)
		})
	}
}

// Without the guard the driver takes these faults for temperatures.
func TestDS18B20DriverAloneIsFooled(t *testing.T) {
	for trouble, tempC := range map[simulated.Trouble]float64{
		simulated.BrownOut: 85,       // its own test for this value compares two kinds of kelvin
		simulated.Weak:     127.9375, // 0x07FF
		simulated.Zeros:    0,        // the checksum of zeros is zero
	} {
		synctest.Test(t, func(t *testing.T) {
			line, all := thermometersOnLine(18.3)
			dev, err := ds18b20.New(line, all[0].Address(), 12)
			require.NoError(t, err)
			all[0].Break(trouble)
			require.NoError(t, ds18b20.ConvertAll(line, 12))
			got, err := dev.LastTemp()
			require.NoError(t, err, trouble)
			require.Equal(t, tempC, got.Celsius(), trouble)
		})
	}
}

func TestDS18B20Faults(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*simulated.Line, []*simulated.DS18B20)
		kind  sensors.Fault
	}{
		{"unplugged, others there", func(_ *simulated.Line, c []*simulated.DS18B20) { c[0].Break(simulated.Gone) }, sensors.NoResponse},
		{"all unplugged", func(_ *simulated.Line, c []*simulated.DS18B20) {
			c[0].Break(simulated.Gone)
			c[1].Break(simulated.Gone)
		}, sensors.NoResponse},
		{"line cut", func(l *simulated.Line, _ []*simulated.DS18B20) { l.Break(simulated.Gone) }, sensors.NoResponse},
		{"line shorted, seen by the master", func(l *simulated.Line, _ []*simulated.DS18B20) { l.Break(simulated.Shorted) }, sensors.BusError},
		{"line low while reading", func(l *simulated.Line, _ []*simulated.DS18B20) { l.Break(simulated.Zeros) }, sensors.BusError},
		{"line open while reading", func(l *simulated.Line, _ []*simulated.DS18B20) { l.Break(simulated.Ones) }, sensors.NoResponse},
		{"a bit flipped", func(l *simulated.Line, _ []*simulated.DS18B20) { l.Break(simulated.Flips) }, sensors.BadChecksum},
		{"restarted while converting", func(_ *simulated.Line, c []*simulated.DS18B20) { c[0].Break(simulated.BrownOut) }, sensors.PowerOn},
		{"supply too weak", func(_ *simulated.Line, c []*simulated.DS18B20) { c[0].Break(simulated.Weak) }, sensors.PowerOn},
	} {
		for way, open := range map[string]func(*simulated.Line) chips.WireOpener{
			"direct": func(l *simulated.Line) chips.WireOpener { return chips.Direct(l) },
			"bridge": bridged,
		} {
			synctest.Test(t, func(t *testing.T) {
				line, all := thermometersOnLine(18.3, 7)
				wire := chips.NewWire(open(line), sensors.RealClock{})
				p, err := wire.DS18B20(all[0].Address())(t.Context())
				require.NoError(t, err)
				c.spoil(line, all)
				_, err = p.Sense(t.Context())
				require.Error(t, err, "%s, %s", c.name, way)
				require.Equal(t, c.kind, sensors.FaultOf(err), "%s, %s: %v", c.name, way, err)

				line.Break(simulated.None)
				for _, chip := range all {
					chip.Break(simulated.None)
				}
				s, err := sense(wire.DS18B20(all[0].Address()))
				require.NoError(t, err, "%s, %s: opened afresh it measures again", c.name, way)
				require.Equal(t, 18.3125, s.TempC)
			})
		}
	}
}

// The chip holds its power-on value until the first conversion; then opening must not fail, and a
// measurement must make one.
func TestDS18B20AfterPowerOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		line, all := thermometersOnLine(18.3)
		wire := chips.NewWire(chips.Direct(line), sensors.RealClock{})
		p, err := wire.DS18B20(all[0].Address())(t.Context())
		require.NoError(t, err)
		_, err = p.Sense(t.Context())
		require.NoError(t, err)
		all[0].LosePower()
		s, err := p.Sense(t.Context())
		require.NoError(t, err)
		require.Equal(t, 18.3125, s.TempC)
	})
}

func TestABridgeThatFailedIsOpenedAfresh(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		line, all := thermometersOnLine(18.3)
		bus := simulated.NewBus("board")
		bus.Attach(bridgeAddr, simulated.NewBridge(line))
		wire := chips.NewWire(chips.Bridge(bus, bridgeAddr), sensors.RealClock{})
		p, err := wire.DS18B20(all[0].Address())(t.Context())
		require.NoError(t, err)
		for _, trouble := range []simulated.Trouble{simulated.Nack, simulated.TimedOut, simulated.Ones} {
			bus.Break(trouble)
			for range 2 {
				_, err = p.Sense(t.Context())
				require.Error(t, err, trouble)
				_, err = wire.Search(false)
				require.Error(t, err, trouble)
				if trouble == simulated.Nack {
					require.ErrorIs(t, err, syscall.Errno(121))
					require.Equal(t, sensors.NoResponse, sensors.FaultOf(err))
				}
			}
			bus.Break(simulated.None)
			s, err := p.Sense(t.Context())
			require.NoError(t, err, "the driver alone would repeat its first error for ever")
			require.Equal(t, 18.3125, s.TempC)
		}
	})
}

// One conversion serves a round: the chips of a bus take 0.75 s together, not each.
func TestOneConversionServesARound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		line, all := thermometersOnLine(18, 19, 20)
		wire := chips.NewWire(chips.Direct(line), sensors.RealClock{})
		p := &sensors.Poller{}
		for i, c := range all {
			p.Probes = append(p.Probes, sensors.Polled{Name: fmt.Sprint(i), Open: wire.DS18B20(c.Address())})
		}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		out := make(chan sensors.Reading)
		go p.Run(ctx, out)
		start := time.Now()
		conversions := map[time.Time]int{}
		for range 12 {
			r := <-out
			require.NoError(t, r.Err)
			if r.At.Sub(start) > 30*time.Second {
				require.True(t, r.Temp.OK())
				conversions[r.At]++
			}
		}
		require.Equal(t, map[time.Time]int{
			start.Add(time.Minute).UTC():     3,
			start.Add(2 * time.Minute).UTC(): 3,
		}, conversions)
	})
}

func TestAConversionIsNotUsedTwice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		temp := 18.0
		line := simulated.NewLine(sensors.RealClock{})
		chip := simulated.NewDS18B20(simulated.ROM(1), func() float64 { return temp })
		line.Attach(chip)
		p, err := chips.NewWire(chips.Direct(line), sensors.RealClock{}).DS18B20(chip.Address())(t.Context())
		require.NoError(t, err)
		time.Sleep(time.Second)
		first, err := p.Sense(t.Context())
		require.NoError(t, err)
		temp = 25
		second, err := p.Sense(t.Context())
		require.NoError(t, err)
		require.Equal(t, 25.0, second.TempC)
		require.True(t, second.At.After(first.At))
	})
}

// A fast clock shortens the conversion; nothing in it waits in real time.
func TestConversionOnAFastClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := sensors.NewFastClock(time.Date(2026, 1, 12, 7, 0, 0, 0, time.UTC), 600)
		line := simulated.NewLine(clock)
		chip := simulated.NewDS18B20(simulated.ROM(1), func() float64 { return 12 })
		line.Attach(chip)
		began := time.Now()
		s, err := sense(chips.NewWire(chips.Direct(line), clock).DS18B20(chip.Address()))
		require.NoError(t, err)
		require.Equal(t, 12.0, s.TempC)
		require.InDelta(t, 752.0/600, float64(time.Since(began))/float64(time.Millisecond), 0.1)
	})
}

func TestConversionEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		line, all := thermometersOnLine(18)
		p, err := chips.NewWire(chips.Direct(line), sensors.RealClock{}).DS18B20(all[0].Address())(t.Context())
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
		defer cancel()
		_, err = p.Sense(ctx)
		require.Equal(t, sensors.Timeout, sensors.FaultOf(err))
	})
}

// Setting the resolution writes the chip's EEPROM, which some clones bear about ten times: only a chip
// that is not at 12 bits is written, once.
func TestOpeningSparesTheEEPROM(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		line, all := thermometersOnLine(18.3, 18.3)
		all[1].SetBits(9)
		wire := chips.NewWire(chips.Direct(line), sensors.RealClock{})
		for range 3 {
			for _, c := range all {
				s, err := sense(wire.DS18B20(c.Address()))
				require.NoError(t, err)
				require.False(t, math.IsNaN(s.TempC))
			}
		}
		require.Equal(t, 0, all[0].Copies())
		require.Equal(t, 1, all[1].Copies())
	})
}

// DS18B20 data sheet, maximum conversion times. Read too early the chip still shows the value before.
func TestConversionTimes(t *testing.T) {
	for bits, want := range map[int]time.Duration{
		9: 93750 * time.Microsecond, 10: 187500 * time.Microsecond, 11: 375 * time.Millisecond, 12: 750 * time.Millisecond,
	} {
		synctest.Test(t, func(t *testing.T) {
			line, all := thermometersOnLine(20)
			all[0].SetBits(bits)
			shown := func() float64 {
				dev, err := ds18b20.New(line, all[0].Address(), bits)
				require.NoError(t, err)
				got, err := dev.LastTemp()
				require.NoError(t, err)
				return got.Celsius()
			}
			require.NoError(t, ds18b20.StartAll(line))
			time.Sleep(want - time.Microsecond)
			require.Equal(t, 85.0, shown(), "%d bits", bits)
			time.Sleep(time.Microsecond)
			require.Equal(t, 20.0, shown(), "%d bits", bits)
		})
	}
}
