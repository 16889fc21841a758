package chips_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

// A day of the invented winter through simulated chips, the real drivers and the Poller, at 600 times
// real time: every reading is good and shows the climate of the instant it names.
func TestADayOnAFastClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		zone, err := time.LoadLocation("Europe/Prague")
		require.NoError(t, err)
		begin := time.Date(2026, 1, 12, 7, 0, 0, 0, zone)
		climate := simulated.NewClimate(1, begin, zone)
		clock := sensors.NewFastClock(begin, 600)
		line := simulated.NewLine(clock)
		pattern := simulated.NewDS18B20(simulated.ROM(7), climate.Pattern(clock))
		line.Attach(pattern)
		bus := simulated.NewBus("board")
		bus.Attach(bmeAddr, simulated.NewBME280(climate.Bench(clock)))
		poller := &sensors.Poller{Clock: clock, Probes: []sensors.Polled{
			{Name: "bench", Open: chips.BME280(bus, bmeAddr)},
			{Name: "pattern", Open: chips.NewWire(chips.Direct(line), clock).DS18B20(pattern.Address())},
		}}

		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		out := make(chan sensors.Reading)
		go poller.Run(ctx, out)
		counts := map[string]int{}
		for r := range out {
			if r.At.After(begin.Add(24 * time.Hour)) {
				break
			}
			require.NoError(t, r.Err)
			counts[r.Probe]++
			if counts[r.Probe] == 1 {
				require.Equal(t, sensors.Unsure, r.Temp.Fault)
				continue
			}
			require.True(t, r.Temp.OK(), "%s at %s: %v", r.Probe, r.At, r.Temp)
			if r.Probe == "pattern" {
				require.InDelta(t, climate.PatternC(r.At), r.Temp.Value, 0.03*5+0.0625/2)
				continue
			}
			require.InDelta(t, climate.AnnexC(r.At), r.Temp.Value, 0.03*5+0.01)
			require.True(t, r.Humidity.OK())
			require.InDelta(t, climate.Humidity(r.At), r.Humidity.Value, 0.003*5+0.001)
		}
		require.InDelta(t, 1441, counts["bench"], 1)
		require.InDelta(t, 1441, counts["pattern"], 1)
	})
}
