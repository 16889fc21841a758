package model

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/forecast"
)

// swinging is a shop that is warm by day and cold by night, for days, up to an hour of the last; both
// probes, in UTC. After four weeks of the same the forecaster is sure of it.
func swinging(s *Shop, days int, hour float64, surfaceLag float64) time.Time {
	at := begin().Truncate(24 * time.Hour)
	end := at.Add(time.Duration((float64(days) + hour/24) * 24 * float64(time.Hour)))
	for ; !at.After(end); at = at.Add(5 * time.Minute) {
		h := float64(at.Unix()%86400) / 3600
		temp := 20 + 6*math.Sin((h-10)*math.Pi/12) // 26 °C at 16:00, 14 °C at 4:00
		s.Reading(airReading("air", at, temp, 0.4))
		s.Reading(airReading("skin", at, temp-surfaceLag, math.NaN()))
	}
	return end
}

// begunMold is a mold with release on, standing at the bench.
func begunMold(t *testing.T, s *Shop, at time.Time) *MoldOutlook {
	t.Helper()
	markWork(t, s, at.Add(-4*time.Hour), Mark{Kind: Begun, Place: "bench", Material: "platinum-slow"}, Mark{Kind: ReleaseOn, Material: "wax-naphtha"})
	m, ok := s.Outlook(at).Mold("frieze")
	require.True(t, ok)
	return m
}

func codes(f Fitness) map[ReasonCode]bool {
	out := map[ReasonCode]bool{}
	for _, r := range f.Reasons {
		out[r.Code] = !r.Caution
	}
	return out
}

// At 3:00 the air is 14 °C and warms above the window of 18 °C at 8:40 by the sine. At 22:48 it is still
// 18.8 °C, but at 23:20 below 18 °C, before a working life of half an hour at room temperature is over.
func TestColdNightsAreToldBeforeThePour(t *testing.T) {
	s := bench(t)
	at := swinging(s, 27, 3, 0)
	m := begunMold(t, s, at)
	require.Equal(t, NotFit, m.Pour.Verdict)
	require.True(t, codes(m.Pour)[ReasonCold])
	day := at.Truncate(24 * time.Hour)
	require.WithinRange(t, m.Pour.From, day.Add(8*time.Hour+40*time.Minute), day.Add(9*time.Hour))
	require.Equal(t, m.Pour.From, m.NextAt)
	require.NotNil(t, m.Pour.Warmer)
	require.WithinRange(t, m.Pour.Warmer.From, at, at.Add(time.Hour), "the release is dry, and no probe sits on the pattern")
}

func TestAColdNightDuringTheCureIsToldInTheEvening(t *testing.T) {
	s := bench(t)
	at := swinging(s, 27, 22.8, 0)
	m := begunMold(t, s, at)
	require.False(t, codes(m.Pour)[ReasonCold], "the air itself is warm enough")
	require.True(t, codes(m.Pour)[ReasonColdAhead], "%+v", m.Pour)
	require.False(t, m.Pour.From.IsZero())
}

func TestWhatWaitingDoesNotMendTurnsNothingFit(t *testing.T) {
	s := bench(t)
	at := swinging(s, 27, 3, 0)
	m := begunMold(t, s, at.Add(3*time.Hour)) // silent for three hours
	require.NotEqual(t, Fit, m.Pour.Verdict)
	require.Zero(t, m.Pour.From)
	require.Nil(t, m.Pour.Warmer)
}

func TestHeatThatIsNoSoonerIsNotTold(t *testing.T) {
	s := bench(t)
	at := swinging(s, 27, 14, 0)
	m := begunMold(t, s, at)
	require.Equal(t, Fit, m.Pour.Verdict, "%+v", m.Pour)
	require.Nil(t, m.Pour.Warmer)
	require.Zero(t, m.Pour.From)
}

// Past the last hour of the forecast nothing is told.
func TestAPlaceThatStaysColdTurnsFitOnlyByHeat(t *testing.T) {
	s := bench(t)
	at := steady(s, begin(), 48*time.Hour, 10)
	markWork(t, s, at.Add(-time.Hour), Mark{Kind: Begun, Place: "bench", Material: "platinum-slow"})
	m, _ := s.Outlook(at).Mold("frieze")
	require.Zero(t, m.Pour.From)
	require.NotNil(t, m.Pour.Warmer)
	require.Equal(t, 22.0, m.Pour.Warmer.TempC)
	require.Less(t, forecast.Steps, slots)
}

// Poured at 22:54 into a night that by the sine falls at 1:45 below 15 °C, where some products of the class do
// not cure: told from the next whole hour of the forecast on. What is cured by the evening does not mind.
func TestAColdNightDuringTheCureIsForeseen(t *testing.T) {
	told := func(hour float64, rubber string) (coldFrom, poured time.Time) {
		s := bench(t)
		at := swinging(s, 27, hour, 0)
		markWork(t, s, at, Mark{Kind: Begun, Place: "bench", Material: rubber}, Mark{Kind: Mixed}, Mark{Kind: Poured})
		return lastStep(s.Outlook(at)).ColdFrom, at
	}
	coldFrom, poured := told(22.9, "tin-silicone")
	require.WithinRange(t, coldFrom, poured.Add(2*time.Hour+51*time.Minute), poured.Add(4*time.Hour))
	coldFrom, _ = told(9, "platinum-slow")
	require.Zero(t, coldFrom)
}
