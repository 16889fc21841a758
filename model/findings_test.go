package model

import (
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/cure"
	"pourward/model/material"
	"pourward/sensors"
)

// castOnce pours a mold of slow platinum silicone into steady air and checks its cup: tacky at one share of
// the room-temperature time, firm at another.
func castOnce(t require.TestingT, s *Shop, name string, id int64, from time.Time, tempC float64, tacky, firm time.Duration) time.Time {
	steady(s, from.Add(-30*time.Minute), 30*time.Minute, tempC)
	for i, m := range []Mark{
		{Kind: Begun, Place: "bench", Surface: "pattern", Material: "platinum-slow", At: from},
		{Kind: Mixed, At: from}, {Kind: Poured, At: from},
		{Kind: Checked, Of: Cup, Found: Tacky, At: from.Add(tacky)},
		{Kind: Checked, Of: Cup, Found: Firm, At: from.Add(firm)},
		{Kind: Demolded, At: from.Add(firm + time.Minute)},
	} {
		m.ID, m.Mold = id+int64(i), name
		require.NoError(t, s.Mark(m))
	}
	return steady(s, from, firm+10*time.Minute, tempC)
}

func TestOwnChecksMoveTheReferenceTime(t *testing.T) {
	s := bench(t)
	of, err := s.setup.Shelf.Find("platinum-slow")
	require.NoError(t, err)
	at := begin()
	for i := range 4 { // this product needs 5 h at room temperature, not 4 h
		at = castOnce(t, s, fmt.Sprintf("mold-%d", i), int64(i*10+1), at, 22.5, 4*time.Hour+50*time.Minute, 5*time.Hour+10*time.Minute)
		at = at.Add(30 * time.Minute)
	}
	e, _ := s.learn(of, 0, math.MaxInt64)
	require.InDelta(t, 5*time.Hour.Hours(), e.Ref.Hours(), 0.15)
	require.Less(t, e.LnSD, of.Demold.LnSD, "the spread shrinks")
	require.Equal(t, of.Demold.EaJ, e.EaJ, "one temperature teaches nothing about the activation energy")
	require.Contains(t, e.Source.Text, "4 of your own batches")
	before, _ := s.learn(of, 0, begin().UnixMilli())
	require.Equal(t, of.Demold, before, "what came later teaches nothing about earlier")
}

// Batches at three temperatures that span more than 10 K: the activation energy follows the truth.
func TestOwnChecksMoveTheActivationEnergy(t *testing.T) {
	s := bench(t)
	of, err := s.setup.Shelf.Find("platinum-slow")
	require.NoError(t, err)
	truth := cure.Arrhenius{EaJ: 70e3, RefC: of.RefC}
	at := begin()
	for i, tempC := range []float64{12, 18, 24, 12, 18, 24} {
		need := time.Duration(4 * float64(time.Hour) / truth.Rate(tempC))
		at = castOnce(t, s, fmt.Sprintf("mold-%d", i), int64(i*10+1), at, tempC, need*95/100, need*105/100)
		at = at.Add(30 * time.Minute)
	}
	e, _ := s.learn(of, 0, math.MaxInt64)
	require.InDelta(t, 68e3, e.EaJ, 4e3, "between the prior of 55 and the truth of 70 kJ/mol, near the truth")
	require.Less(t, e.EaSDJ, of.Demold.EaSDJ)
}

func TestGapTeachesNothing(t *testing.T) {
	s := bench(t)
	of, err := s.setup.Shelf.Find("platinum-slow")
	require.NoError(t, err)
	steady(s, begin(), time.Hour, 22)
	markWork(t, s, begin(), stepMarks("cure")...)
	require.NoError(t, s.Mark(Mark{ID: 9, Mold: "frieze", Kind: Checked, Of: Cup, Found: Firm, At: begin().Add(6 * time.Hour)}))
	steady(s, begin().Add(3*time.Hour), 5*time.Hour, 22)
	e, key := s.learn(of, 0, math.MaxInt64)
	require.Empty(t, key)
	require.Equal(t, of.Demold, e)
}

func TestTooHotRefuses(t *testing.T) {
	s := bench(t)
	last := steady(s, begin().Add(-time.Hour), time.Hour, 50)
	markWork(t, s, begin(), stepMarks("cure")...)
	last = steady(s, last, 10*time.Minute, 50)
	got := lastStep(s.Outlook(last))
	require.Equal(t, CannotSay, got.Standing)
	last = steady(s, last, 10*time.Hour, 50)
	require.Equal(t, CannotSay, lastStep(s.Outlook(last)).Standing, "nor is it called ready")
}

func TestKnownRangeWidensTheBand(t *testing.T) {
	of := material.Material{RefC: 22.5, FloorC: 0, Known: material.Window{MinC: 15, MaxC: 35}}
	e := material.Event{Ref: time.Hour, LnSD: 0.1, EaJ: 50e3, EaSDJ: 10e3}
	sd := func(tempC float64) float64 {
		f := newCureFold(pieces{air: &track{}}, of, e, 0.5)
		f.coldest, f.hottest = tempC, tempC
		return f.lnSD(cure.Account{})
	}
	require.Equal(t, sd(20), sd(15))
	require.Less(t, sd(15), sd(12))
	require.Less(t, sd(12), sd(8))
}

// The learned times follow from the set of readings and marks as well, and from what Needs asks for.
func TestLearningDoesNotDependOnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var readings []sensors.Reading
		var marks []Mark
		from := begin()
		for i := range 3 {
			tempC := rapid.Float64Range(12, 26).Draw(t, "temp")
			firm := time.Duration(rapid.IntRange(3, 14).Draw(t, "firm")) * time.Hour
			end := from.Add(firm + time.Hour)
			for at := from.Add(-30 * time.Minute); at.Before(end); at = at.Add(10 * time.Minute) {
				readings = append(readings, airReading("air", at, tempC, 0.5))
			}
			for k, m := range []Mark{
				{Kind: Begun, Place: "bench", Material: "platinum-slow", At: from}, {Kind: Mixed, At: from}, {Kind: Poured, At: from},
				{Kind: Checked, Of: Cup, Found: Tacky, At: from.Add(firm / 2)},
				{Kind: Checked, Of: Cup, Found: Firm, At: from.Add(firm)}, {Kind: Demolded, At: from.Add(firm)},
			} {
				if i == 2 && m.Kind == Demolded {
					continue
				}
				m.ID, m.Mold = int64(10*i+k+1), fmt.Sprintf("mold-%d", i)
				marks = append(marks, m)
			}
			from = end.Add(time.Duration(rapid.IntRange(1, 90).Draw(t, "pause")) * time.Hour)
		}
		at := from.Add(10 * time.Hour)
		want := plain(folded(t, readings, marks, 0).Outlook(at))
		got := plain(folded(t, rapid.Permutation(readings).Draw(t, "order"), marks, rapid.IntRange(0, len(readings)).Draw(t, "after")).Outlook(at))
		if !reflect.DeepEqual(want, got) {
			t.Fatalf("told in order:\n%+v\ntold out of order:\n%+v", want.Molds, got.Molds)
		}
		again := bench(t)
		markAll(t, again, marks)
		spans := again.Needs(readings[len(readings)-1].At)
		for _, r := range readings {
			for _, s := range spans {
				if !r.At.Before(s.From) && r.At.Before(s.To) {
					again.Reading(r)
				}
			}
		}
		again.Forget()
		if got := plain(again.Outlook(at)); !reflect.DeepEqual(want.Molds, got.Molds) {
			t.Fatalf("told in order:\n%+v\ntold from what was needed:\n%+v", want.Molds, got.Molds)
		}
	})
}

// A second time on the data sheet: 60 min at 23 °C and 30 min at 33 °C are 52.25 kJ/mol (two-point Arrhenius;
// computed by hand), put together with the class by inverse variances.
func TestSecondTemperatureOnTheDataSheet(t *testing.T) {
	of := material.Material{RefC: 23, Second: material.SecondTime{TempC: 33, RelSD: 0.1}}
	e := material.Event{Ref: time.Hour, EaJ: 70e3, EaSDJ: 15e3}
	got := withSecond(of, e, 30*time.Minute)
	sd := 8.314462618 / (1/296.15 - 1/306.15) * 0.1 * math.Sqrt2
	w1, w2 := 1/(15e3*15e3), 1/(sd*sd)
	require.InDelta(t, (70e3*w1+52.2523e3*w2)/(w1+w2), got.EaJ, 1)
	require.InDelta(t, math.Sqrt(1/(w1+w2)), got.EaSDJ, 1)
	require.Equal(t, e, withSecond(of, e, 0), "none printed")
}
