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

// bout is a probe polled each minute that is broken for a while and mended.
type bout struct {
	tempTol, humidityTol float64 // NaN: not measured
	truth                func(time.Time) simulated.Air
	breaks, mends        time.Time
	before, during, back int       // good readings; back: in the last five minutes
	first                time.Time // good reading after the mending
}

const (
	breaksAfter = 5*time.Minute + 30*time.Second
	mendsAfter  = 15*time.Minute + 30*time.Second
	endsAfter   = 25 * time.Minute
)

// take looks at a reading: whatever happens, what is called good is true.
func (b *bout) take(t require.TestingT, r sensors.Reading, end time.Time, hint string) {
	if r.Humidity.OK() {
		require.InDelta(t, b.truth(r.At).Humidity, r.Humidity.Value, b.humidityTol, "%s: false humidity at %s", hint, r.At)
	}
	if !r.Temp.OK() {
		return
	}
	require.InDelta(t, b.truth(r.At).TempC, r.Temp.Value, b.tempTol, "%s: false temperature at %s", hint, r.At)
	switch {
	case !r.At.After(b.breaks):
		b.before++
	case !r.At.After(b.mends):
		b.during++
	default:
		if b.first.IsZero() {
			b.first = r.At
		}
		if end.Sub(r.At) < 5*time.Minute {
			b.back++
		}
	}
}

// run polls for 25 minutes.
func (b *bout) run(t *testing.T, open sensors.Opener, spoil, mend func(), hint string) {
	begin := time.Now()
	b.truth = weather(begin)
	b.breaks, b.mends = begin.Add(breaksAfter), begin.Add(mendsAfter)
	end := begin.Add(endsAfter)
	ctx, cancel := context.WithDeadline(t.Context(), end)
	defer cancel()
	time.AfterFunc(breaksAfter, spoil)
	time.AfterFunc(mendsAfter, mend)
	out := make(chan sensors.Reading)
	ended := make(chan error, 1)
	go func() {
		p := sensors.Poller{Probes: []sensors.Polled{{Name: hint, Open: open}}}
		ended <- p.Run(ctx, out)
	}()
	for {
		select {
		case r := <-out:
			b.take(t, r, end, hint)
		case err := <-ended:
			require.ErrorIs(t, err, context.DeadlineExceeded)
			return
		}
	}
}

// check is what every fault has in common.
func (b *bout) check(t *testing.T, lasts bool, hint string) {
	require.GreaterOrEqual(t, b.before, 4, hint)
	if lasts {
		require.Zero(t, b.during, "%s: good readings from a broken probe", hint)
	}
	require.False(t, b.first.IsZero(), "%s: no reading after it was mended", hint)
	require.Less(t, b.first.Sub(b.mends), 3*time.Minute, hint)
	require.GreaterOrEqual(t, b.back, 4, hint)
}

// Every chip on the I²C bus with every fault: no false good reading, ever, and readings again once it is
// mended. Truth is the air; "false" is further off than the chip's accuracy.
func TestNoFaultMakesAFalseReading(t *testing.T) {
	for _, trouble := range []simulated.Trouble{simulated.Nack, simulated.Gone, simulated.Zeros, simulated.Ones,
		simulated.Flips, simulated.Hang, simulated.TimedOut, simulated.Busy, simulated.BrownOut} {
		for _, r := range rigs() {
			hint := fmt.Sprintf("%s, %s", r.name, trouble)
			synctest.Test(t, func(t *testing.T) {
				var b bout
				b.tempTol, b.humidityTol = accuracy(t, r.name)
				bus, chip := r.on(airNow(time.Now()))
				b.run(t, r.open(bus, r.addr), func() { chip.Break(trouble) }, func() { chip.Break(simulated.None) }, hint)
				silent := trouble == simulated.Busy && (r.name == "MCP9808" || r.name == "TMP102") // they never say
				b.check(t, !silent, hint)
				synctest.Wait()
			})
		}
	}
}

// airNow is the weather at the moment it is asked for.
func airNow(begin time.Time) func() simulated.Air {
	return func() simulated.Air { return weather(begin)(time.Now()) }
}

// The same for a fault of the whole bus.
func TestNoFaultOfTheBusMakesAFalseReading(t *testing.T) {
	for _, trouble := range []simulated.Trouble{simulated.Zeros, simulated.Ones, simulated.Flips, simulated.TimedOut, simulated.Hang} {
		for _, r := range rigs() {
			hint := fmt.Sprintf("%s, bus %s", r.name, trouble)
			synctest.Test(t, func(t *testing.T) {
				var b bout
				b.tempTol, b.humidityTol = accuracy(t, r.name)
				bus, _ := r.on(airNow(time.Now()))
				b.run(t, r.open(bus, r.addr), func() { bus.Break(trouble) }, func() { bus.Break(simulated.None) }, hint)
				b.check(t, true, hint)
				synctest.Wait()
			})
		}
	}
}

// A chip that loses its supply for a moment, between measurements or just before one, never shows the
// values it wakes up with.
func TestNoLossOfPowerMakesAFalseReading(t *testing.T) {
	for _, r := range rigs() {
		for _, early := range []time.Duration{20 * time.Second, 30 * time.Millisecond, 0} {
			hint := fmt.Sprintf("%s, power lost %s before a measurement", r.name, early)
			synctest.Test(t, func(t *testing.T) {
				var b bout
				b.tempTol, b.humidityTol = accuracy(t, r.name)
				bus, chip := r.on(airNow(time.Now()))
				lose := func() { time.AfterFunc(30*time.Second-early, chip.LosePower) }
				b.run(t, r.open(bus, r.addr), lose, lose, hint)
				b.check(t, false, hint)
				require.GreaterOrEqual(t, b.during, 7, hint)
			})
		}
	}
}

// Two probes that change places: neither is recorded under the other's name. Chips without a number
// cannot be told apart; what they do is documented with their functions.
func TestProbesThatChangePlacesAreRefused(t *testing.T) {
	for _, r := range rigs() {
		if r.swaps == 0 {
			continue
		}
		synctest.Test(t, func(t *testing.T) {
			var b bout
			b.tempTol, b.humidityTol = accuracy(t, r.name)
			bus, _ := r.on(airNow(time.Now()))
			bus.Attach(r.swaps, r.chip(func() simulated.Air { return simulated.Air{TempC: 18.5, Humidity: 0.45} }))
			swap := func() { bus.Swap(r.addr, r.swaps) }
			b.run(t, r.open(bus, r.addr), swap, swap, r.name)
			b.check(t, true, r.name)
		})
	}
}

// The thermometers on the 1-wire bus with every fault that they and their line can have.
func TestNoFaultOfTheWireMakesAFalseReading(t *testing.T) {
	type fault struct {
		trouble simulated.Trouble
		ofLine  bool
	}
	for _, f := range []fault{
		{simulated.Gone, false}, {simulated.Zeros, false}, {simulated.Ones, false}, {simulated.Flips, false},
		{simulated.BrownOut, false}, {simulated.Weak, false},
		{simulated.Gone, true}, {simulated.Zeros, true}, {simulated.Ones, true}, {simulated.Flips, true},
		{simulated.Hang, true}, {simulated.Shorted, true},
	} {
		for way, opens := range map[string]func(*simulated.Line) chips.WireOpener{
			"direct": func(l *simulated.Line) chips.WireOpener { return chips.Direct(l) }, "bridge": bridged,
		} {
			hint := fmt.Sprintf("DS18B20, %s, %s (line: %t)", way, f.trouble, f.ofLine)
			synctest.Test(t, func(t *testing.T) {
				var b bout
				b.tempTol, b.humidityTol = accuracy(t, "DS18B20")
				air := airNow(time.Now())
				line := simulated.NewLine(sensors.RealClock{})
				chip := simulated.NewDS18B20(simulated.ROM(7), func() float64 { return air().TempC })
				line.Attach(chip)
				breaks := chip.Break
				if f.ofLine {
					breaks = line.Break
				}
				wire := chips.NewWire(opens(line), sensors.RealClock{})
				b.run(t, wire.DS18B20(chip.Address()), func() { breaks(f.trouble) }, func() { breaks(simulated.None) }, hint)
				b.check(t, true, hint)
				synctest.Wait()
			})
		}
	}
}
