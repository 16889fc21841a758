package model

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/material"
)

// testRubber needs 16 h at 23 °C, activation energy 50 kJ/mol.
func testRubber() *material.Shelf {
	return material.NewShelf(material.Material{
		Name: "rubber", Kind: material.Rubber, RefC: 23,
		WorkingLife: material.Event{Ref: time.Hour, EaJ: 50e3},
		Demold:      material.Event{Ref: 16 * time.Hour, EaJ: 50e3},
		FloorC:      -50, DoubtBelowC: -50,
	})
}

// cureHours is how long the rubber takes in a shop at 20 °C, on a pattern that comes from a room at patternC.
func cureHours(t *testing.T, build Build, patternC float64) float64 {
	s, err := NewShop(Setup{
		Places: []string{"bench"}, Probes: []Probe{{Name: "air", Place: "bench", Every: time.Minute, AccuracyK: 0.01}}, Shelf: testRubber(),
	})
	require.NoError(t, err)
	feed := func(from time.Time, span time.Duration, tempC float64) {
		for at := from; at.Before(from.Add(span)); at = at.Add(time.Minute) {
			s.Reading(airReading("air", at, tempC, math.NaN()))
		}
	}
	feed(begin(), 30*time.Hour, patternC)
	pour := begin().Add(30 * time.Hour)
	feed(pour, 40*time.Hour, 20)
	markWork(t, s, pour,
		Mark{Kind: Begun, Place: "bench", Material: "rubber", Build: build, At: begin()}, Mark{Kind: Mixed}, Mark{Kind: Poured})
	got := lastStep(s.Outlook(pour.Add(40 * time.Hour)))
	return got.Band.Likely.Sub(pour).Hours()
}

// The pattern at 10 °C, the rubber poured at 20 °C, the shop at 20 °C. The hours were computed once with an
// independent solution (eigenfunction series and a fine grid) for k 0.22, 1200 kg/m³, 1300 J/(kg·K), h 8.
func TestRubberLagsBehindTheAir(t *testing.T) {
	air := cureHours(t, Build{}, 10)
	require.InDelta(t, 19.70, air, 0.01, "the air alone: 16 h at 23 °C, 50 kJ/mol")
	for _, c := range []struct {
		build Build
		hours float64
	}{
		{Build{Pattern: "plaster", PatternMM: 50, RubberMM: 40}, 22.69},
		{Build{Pattern: "oil clay", PatternMM: 100, RubberMM: 20}, 25.36},
		{Build{Pattern: "bronze", PatternMM: 40, RubberMM: 40}, 25.36},
	} {
		require.InDelta(t, c.hours, cureHours(t, c.build, 10), 0.1, "%+v", c.build)
	}
}

func TestBuildMakesTheBandNarrowerAndIsToldWhenMissing(t *testing.T) {
	width := func(b Build) (time.Duration, []string) {
		s := bench(t)
		last := steady(s, begin().Add(-time.Hour), time.Hour, 21)
		marks := stepMarks("cure")
		marks[0].Build = b
		markWork(t, s, begin(), marks...)
		last = steady(s, last, 30*time.Minute, 21)
		got := lastStep(s.Outlook(last))
		return got.Band.Latest.Sub(got.Band.Earliest), got.Why
	}
	told, why := width(Build{Pattern: "plaster", PatternMM: 40, RubberMM: 10})
	require.Empty(t, why)
	untold, why := width(Build{})
	require.Less(t, told, untold)
	require.Contains(t, why[0], "the air alone")
}

func TestImpossibleBuildIsRefused(t *testing.T) {
	s := bench(t)
	for want, b := range map[string]Build{
		"needs the thickness of the rubber": {Pattern: "plaster", PatternMM: 20},
		"cannot be -1 mm thick":             {RubberMM: -1, Pattern: "plaster", PatternMM: 3},
		"cannot be NaN mm thick":            {RubberMM: 10, PatternMM: math.NaN()},
		"choose one of":                     {RubberMM: 10, Pattern: "cheese", PatternMM: 10},
		"needs a thickness":                 {RubberMM: 10, Pattern: "plaster"},
		"but no material":                   {RubberMM: 10, ShellMM: 10},
	} {
		err := s.Mark(Mark{ID: 1, Mold: "frieze", Kind: Begun, Place: "bench", At: begin(), Build: b})
		require.ErrorContains(t, err, want)
	}
}

// A probe left in the rubber overrides what is reckoned there: a batch that is kept warm from within cures by
// its own temperature, whatever the air says.
func TestProbeLeftInTheRubberOverrides(t *testing.T) {
	share := func(in string) float64 {
		s := bench(t)
		for at := begin().Add(-time.Hour); !at.After(begin().Add(4 * time.Hour)); at = at.Add(time.Minute) {
			s.Reading(airReading("air", at, 10, 0.5))
			s.Reading(airReading("skin", at, 22.5, math.NaN()))
		}
		marks := stepMarks("cure")
		marks[0].Build = Build{RubberMM: 6, ProbeIn: in}
		markWork(t, s, begin(), marks...)
		return lastStep(s.Outlook(begin().Add(4 * time.Hour))).Share
	}
	require.Greater(t, share(InRubber), share("")+0.02, "on the back of 6 mm it says less of the skin than in the middle")
	s := bench(t)
	err := s.Mark(Mark{ID: 1, Mold: "frieze", Kind: Begun, Place: "bench", At: begin(), Build: Build{RubberMM: 6, ProbeIn: "box"}})
	require.ErrorContains(t, err, "say pattern or rubber")
}
