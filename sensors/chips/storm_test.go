package chips_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/sensors"
	"pourward/sensors/simulated"
)

// onceWrong is a bus that misreads one bit of one block.
type onceWrong struct {
	*simulated.Bus
	block, bit int // which block, which of its bits
	read       int
}

func (b *onceWrong) Tx(addr uint16, w, r []byte) error {
	if err := b.Bus.Tx(addr, w, r); err != nil || len(r) == 0 {
		return err
	}
	if b.read == b.block {
		bit := b.bit % (8 * len(r))
		r[bit/8] ^= 1 << (bit % 8)
	}
	b.read++
	return nil
}

// One bit misread anywhere, in any of the blocks of some minutes, makes no false reading and costs no
// more than what comes of opening the probe afresh.
func TestOneMisreadBitMakesNoFalseReading(t *testing.T) {
	all := rigs()
	rapid.Check(t, func(rt *rapid.T) {
		r := rapid.SampledFrom(all).Draw(rt, "chip")
		block, bit := rapid.IntRange(0, 60).Draw(rt, "block"), rapid.IntRange(0, 207).Draw(rt, "bit")
		tempTol, humidityTol := accuracy(t, r.name)
		var truth func(time.Time) simulated.Air
		var got []sensors.Reading
		synctest.Test(t, func(t *testing.T) {
			truth = weather(time.Now())
			bus, _ := r.on(airNow(time.Now()))
			got = polled(t, 10*time.Minute, r.open(&onceWrong{Bus: bus, block: block, bit: bit}, r.addr))
		})
		good := 0
		for _, reading := range got {
			if reading.Temp.OK() {
				good++
				require.InDelta(rt, truth(reading.At).TempC, reading.Temp.Value, tempTol)
			}
			if reading.Humidity.OK() {
				require.InDelta(rt, truth(reading.At).Humidity, reading.Humidity.Value, humidityTol)
			}
		}
		require.GreaterOrEqual(rt, good, 8)
	})
}

// polled returns the readings of a while of polling each minute.
func polled(t *testing.T, during time.Duration, open sensors.Opener) (got []sensors.Reading) {
	ctx, cancel := context.WithTimeout(t.Context(), during)
	defer cancel()
	out, ended := make(chan sensors.Reading), make(chan error, 1)
	go func() {
		p := sensors.Poller{Probes: []sensors.Polled{{Name: "bench", Open: open}}}
		ended <- p.Run(ctx, out)
	}()
	for {
		select {
		case r := <-out:
			got = append(got, r)
		case <-ended:
			return got
		}
	}
}

// Any faults one after the other, of the chip and of the bus, with lost supplies between: still nothing
// false is called good, and the probe comes back.
func TestNoStormOfFaultsMakesAFalseReading(t *testing.T) {
	all := rigs()
	troubles := []simulated.Trouble{simulated.None, simulated.Nack, simulated.Gone, simulated.Zeros, simulated.Ones, simulated.Flips,
		simulated.Hang, simulated.TimedOut, simulated.BrownOut}
	rapid.Check(t, func(rt *rapid.T) {
		r := rapid.SampledFrom(all).Draw(rt, "chip")
		storm := rapid.SliceOfN(rapid.SampledFrom(troubles), 1, 8).Draw(rt, "troubles")
		lasts := rapid.SliceOfN(rapid.IntRange(1, 90), len(storm), len(storm)).Draw(rt, "seconds")
		drops := rapid.SliceOfN(rapid.Bool(), len(storm), len(storm)).Draw(rt, "power lost")
		tempTol, humidityTol := accuracy(t, r.name)
		var truth func(time.Time) simulated.Air
		var got []sensors.Reading
		var over time.Time
		synctest.Test(t, func(t *testing.T) {
			truth = weather(time.Now())
			bus, chip := r.on(airNow(time.Now()))
			go func() {
				for i, trouble := range storm {
					if drops[i] {
						chip.LosePower()
					}
					chip.Break(trouble)
					time.Sleep(time.Duration(lasts[i]) * time.Second)
				}
				chip.Break(simulated.None)
				over = time.Now()
			}()
			got = polled(t, 20*time.Minute, r.open(bus, r.addr))
			synctest.Wait()
		})
		after := 0
		for _, reading := range got {
			if reading.Humidity.OK() {
				require.InDelta(rt, truth(reading.At).Humidity, reading.Humidity.Value, humidityTol)
			}
			if !reading.Temp.OK() {
				continue
			}
			require.InDelta(rt, truth(reading.At).TempC, reading.Temp.Value, tempTol)
			if reading.At.After(over) {
				after++
			}
		}
		require.GreaterOrEqual(rt, after, 5)
	})
}
