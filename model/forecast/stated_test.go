package forecast

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// weekdays heats Monday to Friday, 07:00 to 18:00, to 21 degC.
func weekdays() *Schedule {
	s := &Schedule{From: 7 * time.Hour, To: 18 * time.Hour, HeatedC: 21}
	for d := time.Monday; d <= time.Friday; d++ {
		s.Days[d] = true
	}
	return s
}

// heatedShop follows a schedule: an hour's time constant towards the heated temperature, fifteen hours' towards the
// weather otherwise, whose swings and fronts can be scaled. offAfter days the heater fails; 0 for never.
func heatedShop(s Schedule, days, offAfter, weather float64, seed uint64) (out []Reading) {
	random := rand.New(rand.NewPCG(seed, 1))
	const step = 10 * time.Minute
	tempC, front := 15.0, 0.0
	for at := start; at.Sub(start).Hours() < 24*days; at = at.Add(step) {
		hours := at.Sub(start).Hours()
		front += -front*step.Hours()/72 + 2*math.Sqrt(2*step.Hours()/72)*random.NormFloat64()
		weatherC := 5 + weather*(3*math.Cos((hours-15)*2*math.Pi/24)+front)
		c := course{15, weatherC}
		if s.Heats(at) && (offAfter == 0 || hours < 24*offAfter) {
			c = course{1, s.HeatedC}
		}
		tempC = c.after(tempC, step.Hours())
		out = append(out, Reading{at, tempC + 0.1*random.NormFloat64()})
	}
	return out
}

func TestScheduleHeats(t *testing.T) {
	s := weekdays()
	monday := start
	require.False(t, s.Heats(monday.Add(7*time.Hour-time.Second)))
	require.True(t, s.Heats(monday.Add(7*time.Hour)))
	require.True(t, s.Heats(monday.Add(18*time.Hour-time.Second)))
	require.False(t, s.Heats(monday.Add(18*time.Hour)))
	require.False(t, s.Heats(monday.AddDate(0, 0, 5).Add(12*time.Hour)), "Saturday")
}

// meanError of the median path, asked four times a day.
func meanError(f *Forecaster, readings []Reading, lead time.Duration, from, to int) float64 {
	sum, n := 0.0, 0.0
	perDay := 144
	next := 0
	for day := from; day < to; day++ {
		for _, part := range []int{0, perDay / 4, perDay / 2, 3 * perDay / 4} {
			now := day*perDay + part
			for ; next <= now; next++ {
				f.Observe(readings[next].At, readings[next].TempC)
			}
			then := now + int(lead/(10*time.Minute))
			p := f.Paths(readings[now].At, 100)
			sum += math.Abs(p.TempQuantiles(lead.Hours(), 0.5)[0] - readings[then].TempC)
			n++
		}
	}
	return sum / n
}

// With ten days on record a scheduled shop is foreseen far better once its schedule is stated.
func TestStatedScheduleHelps(t *testing.T) {
	readings := heatedShop(*weekdays(), 30, 0, 1, 1)
	for _, lead := range []time.Duration{12 * time.Hour, 48 * time.Hour} {
		learned, told := observeAll(New(Options{}), readings[:10*144]), observeAll(New(Options{}), readings[:10*144])
		told.StateSchedule(weekdays())
		require.InDelta(t, 15, told.stated.cool.tauHours, 8)
		require.InDelta(t, 21, told.stated.warm.restC, 0.5)
		without := meanError(learned, readings, lead, 10, 14)
		with := meanError(told, readings, lead, 10, 14)
		t.Logf("%v ahead: %.2f K without, %.2f K with the schedule", lead, without, with)
		require.Less(t, with, 0.8*without)
	}
}

// A schedule that starts today is news: its forecast stands although nothing on record is like it, with the spread
// of an unknown place.
func TestStatedScheduleMayBeNews(t *testing.T) {
	readings := shop(20, 10*time.Minute, 8) // unheated, about 14 degC
	f := observeAll(New(Options{}), readings)
	require.Greater(t, f.Skill().Days, 10.0)
	f.StateSchedule(weekdays())
	require.Zero(t, f.Skill().Days)
	saturday := readings[len(readings)-1].At
	require.Equal(t, time.Saturday, saturday.Weekday())
	noon := saturday.AddDate(0, 0, 2).Truncate(24 * time.Hour).Add(12 * time.Hour)
	p := f.Paths(saturday, 200)
	require.InDelta(t, 21, p.TempQuantiles(noon.Sub(saturday).Hours(), 0.5)[0], 1.5)
	f.StateSchedule(nil)
	require.Greater(t, f.Skill().Days, 10.0, "withdrawn, the old record counts again")
}

// When the heater fails the latest time must come from paths on which it stays off.
func TestHeatingOffWidensTheLateSide(t *testing.T) {
	every := Schedule{To: 24 * time.Hour, HeatedC: 19}
	for d := range every.Days {
		every.Days[d] = true
	}
	readings := heatedShop(every, 16, 15, 1, 2)
	f := observeAll(New(Options{}), readings[:15*144])
	require.False(t, f.Heating().Off)
	cure := Cure{16, doubling}
	before := f.Band(f.Paths(readings[15*144-1].At, 200).Completions(cure, 0, nil))
	next := 15 * 144
	for ; next < len(readings) && !f.Heating().Off; next++ {
		f.Observe(readings[next].At, readings[next].TempC)
	}
	require.True(t, f.Heating().Off)
	require.Less(t, readings[next].At.Sub(readings[15*144].At), 4*time.Hour)
	require.WithinDuration(t, readings[15*144].At, f.Heating().Since, 2*time.Hour)
	require.Equal(t, 0.5, f.Heating().OffShare)
	after := f.Band(f.Paths(readings[next-1].At, 200).Completions(cure, 0, nil))
	require.Less(t, before.Latest, 24.0)
	require.Greater(t, after.Latest, 1.1*before.Latest)

	f.StateHeating(HeatingOff)
	require.Equal(t, 1.0, f.Heating().OffShare)
	stated := f.Band(f.Paths(readings[next-1].At, 200).Completions(cure, 0, nil))
	require.Greater(t, stated.Likely, after.Likely)
	f.StateHeating(HeatingOn)
	require.False(t, f.Heating().Off)
	on := f.Band(f.Paths(readings[next-1].At, 200).Completions(cure, 0, nil))
	require.Less(t, on.Latest, after.Latest)
	f.Observe(readings[next].At, readings[next].TempC)
	require.False(t, f.Heating().Off, "the maker's word silences the watch for a while")
}

// The fall teaches its own time constant.
func TestFallIsFitted(t *testing.T) {
	every := Schedule{To: 24 * time.Hour, HeatedC: 19}
	for d := range every.Days {
		every.Days[d] = true
	}
	readings := heatedShop(every, 16, 15, 0, 3)
	f := observeAll(New(Options{}), readings)
	h := f.Heating()
	require.True(t, h.Off && h.Fitted)
	require.InDelta(t, 15, h.TauHours, 2)
	require.InDelta(t, 5, h.RestC, 1)
}

// Stated off on a place hardly known must not break anything.
func TestStatementsOnAnUnknownPlace(t *testing.T) {
	f := New(shadowed())
	f.StateHeating(HeatingOff)
	f.StateSchedule(weekdays())
	f.Observe(start, 10)
	p := f.Paths(start, 50)
	for _, tempC := range p.TempC {
		require.False(t, math.IsNaN(tempC))
	}
	f.StateHeating(HeatingUnknown)
	require.Equal(t, HeatingState{TauHours: unfittedTau, RestC: 7, Off: false}, f.Heating())
}
