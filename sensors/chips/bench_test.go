package chips_test

import (
	"context"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/simulated"
)

// span is when the readings of one round were there.
type span struct{ first, last time.Time }

// Sixty-four thermometers on one wire through a bridge: one conversion serves a round, no reading is
// lost, and a round ends long before the next is due.
func TestSixtyFourThermometersInARound(t *testing.T) {
	const probes, minutes = 64, 10
	for way, opens := range map[string]func(*simulated.Line) chips.WireOpener{
		"direct": func(l *simulated.Line) chips.WireOpener { return chips.Direct(l) }, "bridge": bridged,
	} {
		synctest.Test(t, func(t *testing.T) {
			begin := time.Now()
			truth := weather(begin)
			line := simulated.NewLine(sensors.RealClock{})
			wire := chips.NewWire(opens(line), sensors.RealClock{})
			p := &sensors.Poller{}
			for i := range probes {
				c := simulated.NewDS18B20(simulated.ROM(uint64(i)), func() float64 { return truth(time.Now()).TempC + float64(i)/8 })
				line.Attach(c)
				p.Probes = append(p.Probes, sensors.Polled{Name: fmt.Sprint(i), Open: wire.DS18B20(c.Address())})
			}
			ctx, cancel := context.WithTimeout(t.Context(), minutes*time.Minute+30*time.Second)
			defer cancel()
			out, ended := make(chan sensors.Reading), make(chan error, 1)
			go func() { ended <- p.Run(ctx, out) }()

			good := map[string]int{}
			rounds := map[time.Time]span{} // by begin of the conversion
			for running := true; running; {
				select {
				case r := <-out:
					require.NoError(t, r.Err)
					if !r.Temp.OK() {
						require.Equal(t, sensors.Unsure, r.Temp.Fault, "only the first value is doubted")
						require.Less(t, r.At.Sub(begin), time.Minute)
						continue
					}
					var i float64
					_, err := fmt.Sscan(r.Probe, &i)
					require.NoError(t, err)
					require.InDelta(t, truth(r.At).TempC+i/8, r.Temp.Value, 0.04)
					good[r.Probe]++
					s, seen := rounds[r.At]
					if !seen {
						s.first = time.Now()
					}
					s.last = time.Now()
					rounds[r.At] = s
				case <-ended:
					running = false
				}
			}
			require.Len(t, good, probes)
			for name, n := range good {
				require.GreaterOrEqual(t, n, minutes, "probe %s lost readings", name)
			}
			served, longest := 0, time.Duration(0)
			for at, s := range rounds {
				if at.Sub(begin) < 59*time.Second {
					continue
				}
				served++
				longest = max(longest, s.last.Sub(at))
			}
			require.Equal(t, minutes, served, "one conversion a round")
			t.Logf("%s: a round of %d thermometers takes %s", way, probes, longest.Round(time.Millisecond))
			require.Less(t, longest, 10*time.Second)
		})
	}
}

// One bus with every kind of chip on it, asked in turn.
func TestABenchWithEveryChip(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		truth := weather(begin)
		bus := simulated.NewBus("board")
		p := &sensors.Poller{}
		free := map[uint16]uint16{}
		for _, r := range rigs() {
			addr := r.addr + free[r.addr] // SHT3x, SHT4x and HDC302x share their first address
			free[r.addr]++
			bus.Attach(addr, r.chip(airNow(begin)))
			p.Probes = append(p.Probes, sensors.Polled{Name: r.name, Open: r.open(bus, addr)})
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Hour)
		defer cancel()
		out, ended := make(chan sensors.Reading), make(chan error, 1)
		go func() { ended <- p.Run(ctx, out) }()
		good := map[string]int{}
		var last time.Time
		for running := true; running; {
			select {
			case r := <-out:
				require.NoError(t, r.Err, r.Probe)
				if r.Temp.OK() {
					tempTol, _ := accuracy(t, r.Probe)
					require.InDelta(t, truth(r.At).TempC, r.Temp.Value, tempTol, r.Probe)
					good[r.Probe]++
				}
				last = time.Now()
			case <-ended:
				running = false
			}
		}
		require.Len(t, good, len(p.Probes))
		for name, n := range good {
			require.GreaterOrEqual(t, n, 60, name)
		}
		t.Logf("a round of %d chips ends %s after the full minute", len(good), (last.Sub(begin) % time.Minute).Round(time.Millisecond))
	})
}
