package model

import (
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/material"
	"pourward/sensors"
)

// rooms is a shop with a bench, a warm box and a probe on the pattern.
func rooms(t require.TestingT, shelf *material.Shelf) *Shop {
	s, err := NewShop(Setup{
		Places: []string{"bench", "box", "pattern"}, Shelf: shelf,
		Probes: []Probe{
			{Name: "air", Place: "bench", Every: time.Minute, AccuracyK: 0.01},
			{Name: "warm", Place: "box", Every: time.Minute, AccuracyK: 0.01},
			{Name: "skin", Place: "pattern", Every: time.Minute, AccuracyK: 0.01},
		},
	})
	require.NoError(t, err)
	return s
}

// heard gives one probe a steady temperature for a span, a reading a minute.
func heard(s *Shop, probe string, from time.Time, span time.Duration, tempC float64) {
	for at := from; !at.After(from.Add(span)); at = at.Add(time.Minute) {
		s.Reading(airReading(probe, at, tempC, 0.5))
	}
}

func pouredOn(from time.Time) []Mark {
	return []Mark{
		{ID: 1, Mold: "frieze", Kind: Begun, At: from, Place: "bench", Material: "rubber"},
		{ID: 2, Mold: "frieze", Kind: Mixed, At: from}, {ID: 3, Mold: "frieze", Kind: Poured, At: from},
	}
}

func movedAt(id int64, at time.Time, place, surface string) Mark {
	return Mark{ID: id, Mold: "frieze", Kind: Moved, At: at, Place: place, Surface: surface}
}

// Equivalent age in the Arrhenius form of ASTM C1074, te = sum of exp(-(Ea/R)(1/T - 1/Tr)) dt, worked by hand
// for 16 h at 23 °C and 50 kJ/mol, with R = 8.314462618 J/(mol·K) (BIPM SI Brochure, 9th ed.): a day passes at
// rate 0.49183 at 13 °C (286.15 K) and at 1.59821 at 30 °C (303.15 K), so after two cold hours
// (16 - 2 x 0.49183)/1.59821 = 9.3956 h are left in the box.
func TestWarmBoxByHand(t *testing.T) {
	const whole = 2 + 9.3956
	for _, late := range []bool{false, true} {
		s := rooms(t, testRubber())
		marks := append(pouredOn(begin()), movedAt(4, begin().Add(2*time.Hour), "box", ""))
		if !late {
			markAll(t, s, marks)
		} else {
			markAll(t, s, marks[:3])
		}
		heard(s, "air", begin(), 14*time.Hour, 13)
		heard(s, "warm", begin(), 14*time.Hour, 30)
		if late {
			require.Equal(t, Running, lastStep(s.Outlook(begin().Add(14*time.Hour))).Standing, "nobody has said yet that it was moved")
			require.NoError(t, s.Mark(marks[3]))
		}
		o := s.Outlook(begin().Add(14 * time.Hour))
		require.Equal(t, "box", o.Molds[0].Place)
		require.InDelta(t, whole, lastStep(o).Band.Likely.Sub(begin()).Hours(), 0.001)
		require.Equal(t, Ready, lastStep(o).Standing)
		back := movedAt(5, begin().Add(2*time.Hour), "bench", "")
		back.Corrects = 4
		require.NoError(t, s.Mark(back))
		require.Equal(t, Running, lastStep(s.Outlook(begin().Add(14*time.Hour))).Standing, "the move is corrected: it never left the bench")
	}
}

// From the move on the projection goes by the forecast of the new place: told two hours in, the same cure as
// above will be ready within half an hour of the hand-worked time, whatever the bench does.
func TestProjectionLooksAheadWhereItStands(t *testing.T) {
	s := rooms(t, testRubber())
	heard(s, "air", begin().Add(-72*time.Hour), 75*time.Hour, 13)
	heard(s, "warm", begin().Add(-72*time.Hour), 75*time.Hour, 30)
	markAll(t, s, append(pouredOn(begin()), movedAt(4, begin().Add(2*time.Hour), "box", "")))
	o := s.Outlook(begin().Add(3 * time.Hour))
	require.InDelta(t, 2+9.3956, lastStep(o).Band.Likely.Sub(begin()).Hours(), 0.5)
	box, _ := o.Place("box")
	require.NotEmpty(t, box.Ahead, "where the mold stands one looks ahead")
	bench, _ := o.Place("bench")
	require.Empty(t, bench.Ahead)
}

// A probe on the pattern that the move names again came along: it goes on deciding. Without that it was left
// behind, and the air of the new place decides.
func TestSurfaceProbeComesAlongWhenNamed(t *testing.T) {
	likely := func(surface string) float64 {
		s := rooms(t, testRubber())
		marks := pouredOn(begin())
		marks[0].Surface = "pattern"
		markAll(t, s, append(marks, movedAt(4, begin().Add(2*time.Hour), "box", surface)))
		for at := begin(); !at.After(begin().Add(30 * time.Hour)); at = at.Add(time.Minute) {
			s.Reading(airReading("air", at, 13, 0.5))
			s.Reading(airReading("skin", at, 23, math.NaN()))
			s.Reading(airReading("warm", at, 30, 0.5))
		}
		return lastStep(s.Outlook(begin().Add(30 * time.Hour))).Band.Likely.Sub(begin()).Hours()
	}
	require.InDelta(t, 16, likely("pattern"), 0.001)
	require.InDelta(t, 2+14/1.59821, likely(""), 0.001)
}

// A thick mold does not jump: carried into the warm box, 40 mm of rubber on 50 mm of plaster lags behind a
// thin one, and behind the air alone.
func TestRubberDoesNotJumpOnAMove(t *testing.T) {
	likely := func(b Build, every time.Duration) float64 {
		s := rooms(t, testRubber())
		marks := pouredOn(begin())
		marks[0].Build = b
		markAll(t, s, append(marks, movedAt(4, begin().Add(2*time.Hour), "box", "")))
		for at := begin().Add(-time.Hour); !at.After(begin().Add(16 * time.Hour)); at = at.Add(every) {
			s.Reading(airReading("air", at, 13, 0.5))
			s.Reading(airReading("warm", at, 30, 0.5))
		}
		return lastStep(s.Outlook(begin().Add(16 * time.Hour))).Band.Likely.Sub(begin()).Hours()
	}
	thick := Build{Pattern: "plaster", PatternMM: 50, RubberMM: 40}
	air, thin, slow := likely(Build{}, time.Minute), likely(Build{RubberMM: 3}, time.Minute), likely(thick, time.Minute)
	require.Less(t, air, thin)
	require.Less(t, thin+0.5, slow)
	require.InDelta(t, slow, likely(thick, 10*time.Minute), 0.02, "however often the probes speak, the air around it jumped at once")
}

// What follows from the two halves of a cure follows from moves as well: coats dry by the air they were carried into.
func TestCoatDriesWhereItWasCarried(t *testing.T) {
	dryAfter := func(moved bool) time.Duration {
		s := rooms(t, nil)
		marks := []Mark{
			{ID: 1, Mold: "frieze", Kind: Begun, At: begin(), Place: "bench"},
			{ID: 2, Mold: "frieze", Kind: CoatOn, At: begin(), Material: "lacquer"},
		}
		if moved {
			marks = append(marks, movedAt(3, begin().Add(10*time.Minute), "box", ""))
		}
		markAll(t, s, marks)
		heard(s, "air", begin(), 12*time.Hour, 10)
		heard(s, "warm", begin(), 12*time.Hour, 30)
		return lastStep(s.Outlook(begin().Add(12 * time.Hour))).Band.Likely.Sub(begin())
	}
	require.Less(t, dryAfter(true), dryAfter(false)*3/4)
}

func TestImpossibleMoves(t *testing.T) {
	s := rooms(t, testRubber())
	markAll(t, s, append(pouredOn(begin()), Mark{ID: 4, Mold: "frieze", Kind: Demolded, At: begin().Add(20 * time.Hour)}))
	require.ErrorContains(t, s.Mark(movedAt(5, begin().Add(21*time.Hour), "box", "")), "lies after it was demolded")
	require.ErrorContains(t, s.Mark(movedAt(5, begin().Add(-time.Hour), "box", "")), "lies before mold")
	require.ErrorContains(t, s.Mark(movedAt(5, begin().Add(time.Hour), "attic", "")), `no place "attic" to move to`)
}

// drawnReadings are readings of all three probes with holes of all lengths.
func drawnReadings(t *rapid.T, n int) []sensors.Reading {
	var out []sensors.Reading
	at := map[string]time.Time{}
	for range n {
		probe := rapid.SampledFrom([]string{"air", "warm", "skin"}).Draw(t, "probe")
		if at[probe].IsZero() {
			at[probe] = begin().Add(-30 * time.Minute)
		}
		at[probe] = at[probe].Add(time.Duration(rapid.SampledFrom([]int{7, 60, 61, 300, 1200, 9000}).Draw(t, "after")) * time.Second)
		out = append(out, airReading(probe, at[probe], rapid.Float64Range(-3, 35).Draw(t, "temp"), rapid.Float64Range(0.2, 1).Draw(t, "rh")))
	}
	return out
}

// drawnMoves are moves at any time, corrected ones among them.
func drawnMoves(t *rapid.T, from int64) []Mark {
	var out []Mark
	for i := range rapid.IntRange(1, 4).Draw(t, "moves") {
		at := begin().Add(time.Duration(rapid.IntRange(0, 900).Draw(t, "moved")) * time.Minute)
		m := movedAt(from+int64(i), at, rapid.SampledFrom([]string{"bench", "box"}).Draw(t, "to"), rapid.SampledFrom([]string{"", "pattern"}).Draw(t, "surface"))
		if i > 0 && rapid.Bool().Draw(t, "corrects") {
			m.Corrects = m.ID - 1
		}
		out = append(out, m)
	}
	return out
}

func heardInOrder(t require.TestingT, readings []sensors.Reading, marks []Mark, after int) *Shop {
	s := rooms(t, nil)
	for i, r := range readings {
		if i == after {
			markAll(t, s, marks)
		}
		s.Reading(r)
	}
	if after >= len(readings) {
		markAll(t, s, marks)
	}
	return s
}

// With moves, too, what is told follows from the set of readings and marks, and from what Needs asks for.
func TestMovesDoNotDependOnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		readings := drawnReadings(t, rapid.IntRange(20, 120).Draw(t, "readings"))
		build := rapid.SampledFrom([]Build{{}, {Pattern: "plaster", PatternMM: 30, RubberMM: 10}}).Draw(t, "build")
		marks := append([]Mark{
			{ID: 1, Mold: "frieze", Kind: Begun, At: begin(), Place: "bench", Surface: "pattern", Material: "platinum-slow", Build: build},
			{ID: 2, Mold: "frieze", Kind: CoatOn, At: begin().Add(3 * time.Minute), Material: "lacquer"},
			{ID: 3, Mold: "frieze", Kind: Mixed, At: begin().Add(3 * time.Hour)},
			{ID: 4, Mold: "frieze", Kind: Poured, At: begin().Add(200 * time.Minute)},
			{ID: 5, Mold: "frieze", Kind: Checked, Of: Cup, Found: Firm, At: begin().Add(14 * time.Hour)},
		}, drawnMoves(t, 20)...)
		if rapid.Bool().Draw(t, "in layers") {
			marks[0].Design = Design{Method: Brushed, Layers: rapid.IntRange(0, 3).Draw(t, "layers"), LayerMM: 3}
			marks[3].Kind = LayerOn
			second := begin().Add(time.Duration(rapid.IntRange(201, 700).Draw(t, "second")) * time.Minute)
			marks = append(marks,
				Mark{ID: 6, Mold: "frieze", Kind: Mixed, At: second, Material: "platinum-fast"}, Mark{ID: 7, Mold: "frieze", Kind: LayerOn, At: second.Add(time.Hour)},
				Mark{ID: 8, Mold: "frieze", Kind: LayerOn, At: second.Add(3 * time.Minute), Corrects: 7})
		}
		end := begin().Add(400 * time.Hour)
		all := heardInOrder(t, readings, marks, 0)
		want := plain(all.Outlook(end))
		order := rapid.Permutation(readings).Draw(t, "order")
		got := plain(heardInOrder(t, order, marks, rapid.IntRange(0, len(readings)).Draw(t, "marks after")).Outlook(end))
		if !reflect.DeepEqual(want, got) {
			t.Fatalf("told in order:\n%+v\ntold out of order:\n%+v", want.Molds, got.Molds)
		}
		last := begin()
		for _, r := range readings {
			last = later(last, r.At)
		}
		again := rooms(t, nil)
		markAll(t, again, marks)
		needs := again.Needs(last)
		for _, r := range readings {
			for _, span := range needs {
				if !r.At.Before(span.From) && r.At.Before(span.To) {
					again.Reading(r)
				}
			}
		}
		again.Forget()
		if got := plain(again.Outlook(end)); !reflect.DeepEqual(want.Molds, got.Molds) {
			t.Fatalf("heard everything:\n%+v\nheard what was needed:\n%+v", want.Molds, got.Molds)
		}
	})
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// A move to a place that reads the same changes nothing, to the last bit.
func TestMoveToTheSameAirChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var readings []sensors.Reading
		at := begin().Add(-30 * time.Minute)
		for range rapid.IntRange(20, 100).Draw(t, "readings") {
			at = at.Add(time.Duration(rapid.SampledFrom([]int{7, 60, 61, 300, 1200, 9000}).Draw(t, "after")) * time.Second)
			tempC, rh := rapid.Float64Range(2, 35).Draw(t, "temp"), rapid.Float64Range(0.2, 1).Draw(t, "rh")
			readings = append(readings, airReading("air", at, tempC, rh), airReading("warm", at, tempC, rh))
			if rapid.Bool().Draw(t, "skin too") {
				readings = append(readings, airReading("skin", at.Add(3*time.Second), tempC-1, math.NaN()))
			}
		}
		surface := rapid.SampledFrom([]string{"", "pattern"}).Draw(t, "surface")
		build := rapid.SampledFrom([]Build{{}, {Pattern: "plaster", PatternMM: 30, RubberMM: 10}}).Draw(t, "build")
		marks := []Mark{
			{ID: 1, Mold: "frieze", Kind: Begun, At: begin(), Place: "bench", Surface: surface, Material: "platinum-slow", Build: build},
			{ID: 2, Mold: "frieze", Kind: ReleaseOn, At: begin().Add(time.Minute), Material: "wax-naphtha"},
			{ID: 3, Mold: "frieze", Kind: Mixed, At: begin().Add(40 * time.Minute)},
			{ID: 4, Mold: "frieze", Kind: Poured, At: begin().Add(50 * time.Minute)},
		}
		move := movedAt(5, begin().Add(time.Duration(rapid.IntRange(0, 400).Draw(t, "moved"))*time.Minute), "box", surface)
		stayed := heardInOrder(t, readings, marks, 0).Outlook(at)
		moved := heardInOrder(t, readings, append(marks, move), 0).Outlook(at)
		if move.At.After(at) {
			return // nothing was heard at the new place yet
		}
		if !reflect.DeepEqual(stayed.Molds[0].Steps, moved.Molds[0].Steps) {
			t.Fatalf("stayed:\n%+v\nmoved at %s:\n%+v", stayed.Molds[0].Steps, move.At, moved.Molds[0].Steps)
		}
	})
}

// A warmer box never makes a cure later, whenever the mold is carried there.
func TestWarmerBoxIsNeverLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cold := rapid.Float64Range(-5, 25).Draw(t, "bench")
		box := rapid.Float64Range(15, 40).Draw(t, "box")
		more := rapid.Float64Range(0, 10).Draw(t, "warmer by")
		move := begin().Add(time.Duration(rapid.IntRange(0, 2000).Draw(t, "moved")) * time.Minute)
		build := rapid.SampledFrom([]Build{{}, {RubberMM: 20}}).Draw(t, "build")
		likely := func(boxC float64) time.Time {
			s := rooms(t, testRubber())
			marks := pouredOn(begin())
			marks[0].Build = build
			markAll(t, s, append(marks, movedAt(4, move, "box", "")))
			for at := begin(); !at.After(begin().Add(70 * time.Hour)); at = at.Add(10 * time.Minute) {
				s.Reading(airReading("air", at, cold, 0.5))
				s.Reading(airReading("warm", at, boxC, 0.5))
			}
			return lastStep(s.Outlook(begin().Add(70 * time.Hour))).Band.Likely
		}
		if a, b := likely(box), likely(box+more); b.After(a) {
			t.Fatalf("at %.2f °C ready %s, at %.2f °C %s", box, a, box+more, b)
		}
	})
}

// A cup has nothing to do with the probe on the pattern: one that is put there shortly before the mold is carried
// off does not stop the clock of the batch. At 23 °C throughout, a fifth of the hour is over after 12 minutes.
func TestBatchRunsOnThroughTwoMovesBetweenReadings(t *testing.T) {
	s := rooms(t, testRubber())
	marks := append(pouredOn(begin())[:2],
		movedAt(3, begin().Add(2*time.Minute+10*time.Second), "bench", "pattern"),
		movedAt(4, begin().Add(2*time.Minute+20*time.Second), "box", ""))
	markAll(t, s, marks)
	heard(s, "air", begin(), 12*time.Minute, 23)
	heard(s, "warm", begin(), 12*time.Minute, 23)
	step := lastStep(s.Outlook(begin().Add(12 * time.Minute)))
	require.Equal(t, WorkingLife, step.Kind)
	require.InDelta(t, 12.0/step.RoomTime.Minutes(), step.Share, 1e-9)
}
