package model

import (
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/air"
	"pourward/sensors"
)

// pair is a shop whose bench carries two probes; the first measures no humidity.
func pair(t require.TestingT) *Shop {
	s, err := NewShop(Setup{
		Places: []string{"bench"},
		Probes: []Probe{
			{Name: "sleeve", Place: "bench", Every: time.Minute, AccuracyK: 0.25},
			{Name: "board", Place: "bench", Every: time.Minute, AccuracyK: 0.5},
		},
	})
	require.NoError(t, err)
	return s
}

func TestTheFirstProbeIsBelievedUntilItIsSilent(t *testing.T) {
	s := pair(t)
	at := begin()
	for range 30 {
		s.Reading(airReading("sleeve", at, 18, math.NaN()))
		s.Reading(airReading("board", at.Add(10*time.Second), 18.4, 0.6))
		at = at.Add(time.Minute)
	}
	p := s.Outlook(at).Places[0]
	require.Equal(t, "sleeve", p.Probe)
	require.InDelta(t, 18, p.TempC, 1e-9)
	vapor := air.VapourPa(18.4, 0.6)
	require.InDelta(t, vapor/air.SaturationPa(18), p.Humidity, 1e-9, "the moisture is the air's, whichever probe measured it")
	for range 10 {
		s.Reading(airReading("board", at, 18.4, 0.6))
		at = at.Add(time.Minute)
	}
	p = s.Outlook(at).Places[0]
	require.Equal(t, "board", p.Probe)
	require.True(t, p.Known)
	require.InDelta(t, 18.4, p.TempC, 1e-9)
	s.Reading(airReading("sleeve", at, 18, math.NaN()))
	require.Equal(t, "sleeve", s.Outlook(at).Places[0].Probe)
}

func TestProbesThatDisagreeAreTold(t *testing.T) {
	for off, told := range map[float64]bool{0: false, 0.9: false, 1.2: true, -1.2: true} {
		s := pair(t)
		at := begin()
		for range 40 {
			s.Reading(airReading("sleeve", at, 18+off, math.NaN()))
			s.Reading(airReading("board", at, 18, 0.6))
			at = at.Add(time.Minute)
		}
		p := s.Outlook(at).Places[0]
		if !told {
			require.Empty(t, p.OffProbe, "%g K lie within the accuracies and half a kelvin", off)
			continue
		}
		require.Equal(t, "board", p.OffProbe)
		require.InDelta(t, off, p.OffK, 1e-9)
	}
}

func TestTwoProbesOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var readings []sensors.Reading
		at := map[string]time.Time{"sleeve": begin().Add(-20 * time.Minute), "board": begin().Add(-19 * time.Minute)}
		for range rapid.IntRange(10, 80).Draw(t, "readings") {
			probe := rapid.SampledFrom([]string{"sleeve", "board"}).Draw(t, "probe")
			at[probe] = at[probe].Add(time.Duration(rapid.SampledFrom([]int{10, 60, 300, 1500}).Draw(t, "after")) * time.Second)
			hum := math.NaN()
			if probe == "board" {
				hum = rapid.Float64Range(0.3, 0.9).Draw(t, "rh")
			}
			readings = append(readings, airReading(probe, at[probe], rapid.Float64Range(8, 30).Draw(t, "temp"), hum))
		}
		marks := []Mark{
			{ID: 1, Mold: "frieze", Kind: Begun, At: begin(), Place: "bench", Material: "platinum-slow"},
			{ID: 2, Mold: "frieze", Kind: CoatOn, At: begin().Add(time.Minute), Material: "water-borne"},
			{ID: 3, Mold: "frieze", Kind: Mixed, At: begin().Add(2 * time.Hour)},
			{ID: 4, Mold: "frieze", Kind: Poured, At: begin().Add(130 * time.Minute)},
		}
		tell := func(readings []sensors.Reading) Outlook {
			s := pair(t)
			markAll(t, s, marks)
			for _, r := range readings {
				s.Reading(r)
			}
			return plain(s.Outlook(begin().Add(48 * time.Hour)))
		}
		want := tell(readings)
		got := tell(rapid.Permutation(readings).Draw(t, "order"))
		if !reflect.DeepEqual(want, got) {
			t.Fatalf("told in order:\n%+v\ntold out of order:\n%+v", want.Molds, got.Molds)
		}
	})
}
