package forecast

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever a probe and a maker do, the paths stay numbers and the band stays in order.
func TestAnythingGivesPaths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := New(shadowed())
		at := start
		for range rapid.IntRange(1, 5).Draw(t, "spells") {
			step := time.Duration(rapid.SampledFrom([]int{30, 300, 900, 3600, 7200}).Draw(t, "step s")) * time.Second
			level := rapid.Float64Range(-30, 45).Draw(t, "level")
			swing := rapid.Float64Range(0, 12).Draw(t, "swing")
			for k := range rapid.IntRange(1, 150).Draw(t, "readings") {
				f.Observe(at, level+swing*math.Sin(float64(k)/7))
				at = at.Add(step)
			}
			switch rapid.IntRange(0, 8).Draw(t, "mark") {
			case 0:
				f.StateHeating(HeatingOff)
			case 1:
				f.StateHeating(HeatingOn)
			case 2:
				f.StateHeating(HeatingUnknown)
			case 3:
				f.StateSchedule(weekdays())
			case 4:
				f.StateSchedule(nil)
			}
			at = at.Add(time.Duration(rapid.SampledFrom([]int{0, 0, 5, 48, 400, 1200}).Draw(t, "gap h")) * time.Hour)
			requireSound(t, f, at)
		}
	})
}

func requireSound(t *rapid.T, f *Forecaster, at time.Time) {
	p := f.Paths(at, 25)
	for _, tempC := range p.TempC {
		require.Less(t, math.Abs(tempC), 1000.0, "no NaN; wild readings may give wild paths")
	}
	b := f.Band(p.Completions(Cure{20, doubling}, 0, nil))
	require.LessOrEqual(t, b.Earliest, b.Likely)
	require.LessOrEqual(t, b.Likely, b.Latest)
	require.GreaterOrEqual(t, b.Earliest, 0.0)
}

func TestCloneIsIndependent(t *testing.T) {
	readings := shop(12, 10*time.Minute, 21)
	f := observeAll(New(shadowed()), readings[:9*144])
	f.StateSchedule(weekdays())
	c := f.Clone()
	at := readings[9*144-1].At
	before := f.Paths(at, 20)
	observeAll(c, readings[9*144:])
	c.StateHeating(HeatingOff)
	require.Equal(t, before, f.Paths(at, 20))
	observeAll(f, readings[9*144:])
	f.StateHeating(HeatingOff)
	require.Equal(t, f.Paths(at, 20), c.Paths(at, 20))
}

// After three weeks of one and the same week, the coming days are foreseen although no two days of it are alike.
func TestRepeatedWeekIsForeseen(t *testing.T) {
	f := New(Options{})
	week := func(at time.Time) float64 {
		tempC := 10 + 2*math.Cos((float64(at.Hour())-15)*2*math.Pi/24)
		if d := at.Weekday(); d == time.Tuesday || d == time.Friday {
			if h := at.Hour(); h >= 17 && h < 22 {
				tempC += 8
			}
		}
		return tempC
	}
	at := start
	for ; at.Before(start.AddDate(0, 0, 28)); at = at.Add(10 * time.Minute) {
		f.Observe(at, week(at))
	}
	p := f.Paths(at, 200)
	for lead := 0.5; lead < leads; lead++ {
		center := at.Add(time.Duration(lead * float64(time.Hour)))
		require.InDelta(t, week(center), p.TempQuantiles(lead, 0.5)[0], 3, "%v ahead", lead)
	}
	s := f.Skill()
	require.InDelta(t, 21, s.Days, 1)
	for _, l := range s.Leads {
		total := 0.0
		for _, share := range l.Share {
			total += share
		}
		require.InDelta(t, 1, total, 1e-9)
		if l.LeadHours >= 12 {
			require.Greater(t, l.Share[Weekly], 0.9, "%d h ahead", l.LeadHours)
		}
	}
	require.Equal(t, "weekly", Weekly.String())
}

// The walk's own standard deviation, by which it is rescaled, against draws.
func TestWalkSpread(t *testing.T) {
	require.InDelta(t, 1/math.Sqrt(1-priorMemory*priorMemory), walkSpread(1), 1e-12, "one stationary AR(1) step")
	for _, h := range []int{2, 5, 24} {
		cov := func(k int) float64 { return math.Pow(priorMemory, float64(k)) / (1 - priorMemory*priorMemory) }
		sum := 0.0
		for i := range h {
			for j := range h {
				sum += cov(max(i-j, j-i))
			}
		}
		require.InDelta(t, math.Sqrt(sum), walkSpread(h), 1e-9)
	}
}
