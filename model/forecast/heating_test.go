package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestFitFallFindsTheTimeConstant(t *testing.T) {
	fall := []float64{20}
	for k := 1; k <= 24*binsPerHour; k++ {
		fall = append(fall, 5+15*math.Exp(-float64(k)/binsPerHour/15))
	}
	for _, r := range table(t, "heating_off") {
		require.InDelta(t, r.num("temp_c"), fall[int(r.num("hours")*binsPerHour)], 1e-6, "the test's own fall")
	}
	tau, rest, ok := FitFall(fall, 1.0/binsPerHour)
	require.True(t, ok)
	require.InDelta(t, 15, tau, 1e-6)
	require.InDelta(t, 5, rest, 1e-6)
	require.InDelta(t, 0.9889503893, math.Exp(-1.0/binsPerHour/tau), 1e-9)
}

func TestFitFallRefusesNonsense(t *testing.T) {
	for _, fall := range [][]float64{nil, {20}, {20, 20, 20, 20, 20}, {10, 11, 13, 17, 25}, {20, 10, 20, 10, 20, 10}} {
		_, _, ok := FitFall(fall, 1)
		require.False(t, ok, "%v", fall)
	}
}

// thermostat feeds a watch with ten-minute means of a shop held at 19 degC, AR(1) noise of .25 K included, for
// days, and then lets it fall. It returns the ticks from the fall to the alarm, -1 for none within hours, and the
// false alarms before.
func thermostat(seed uint64, days int, tauHours, restC, hours float64) (ticks, falseAlarms int) {
	random := rand.New(rand.NewPCG(seed, 0))
	h := history{zone: time.UTC}
	var w watch
	const memory, sd = 0.7, 0.25
	noise := sd * random.NormFloat64()
	level, was := 19.0, false
	start := days * 144
	for k := range start + int(hours*binsPerHour) {
		noise = memory*noise + sd*math.Sqrt(1-memory*memory)*random.NormFloat64()
		if k >= start {
			level = restC + (level-restC)*math.Exp(-1/(binsPerHour*tauHours))
		}
		h.addBin(binMean{Bin: int64(k), MeanC: level + noise, Cover: binSeconds})
		w.tick(&h)
		if w.off && !was {
			if k >= start {
				return k - start, falseAlarms
			}
			falseAlarms++
		}
		was = w.off
	}
	return -1, falseAlarms
}

// How soon a failed heater is noticed depends on how fast the shop falls. The cases are this rule's design cases,
// simulated; no outside source.
func TestHeatingOffIsNoticed(t *testing.T) {
	const trials = 40
	for _, c := range []struct {
		tauHours, restC     float64
		found               int // at least, of 40
		medianMinutesAtMost int
	}{
		{6, 8, 40, 100},
		{15, 8, 40, 190},
		{15, 2, 40, 150},
		{40, 8, 36, 480},
	} {
		var delays []int
		falseAlarms := 0
		for seed := range uint64(trials) {
			ticks, wrong := thermostat(seed, 10, c.tauHours, c.restC, 48)
			falseAlarms += wrong
			if ticks >= 0 {
				delays = append(delays, ticks*10)
			}
		}
		require.GreaterOrEqual(t, len(delays), c.found, "tau %v rest %v", c.tauHours, c.restC)
		slices.Sort(delays)
		median := delays[len(delays)/2]
		t.Logf("tau %v h towards %v degC: noticed %d of %d, median %d min, %d false alarms in %d days",
			c.tauHours, c.restC, len(delays), trials, median, falseAlarms, trials*10)
		require.LessOrEqual(t, median, c.medianMinutesAtMost)
		require.LessOrEqual(t, falseAlarms, 4)
	}
}
