package model

import (
	"encoding/csv"
	"math"
	"os"
	"reflect"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/sensors"
)

func begin() time.Time { return time.Date(2026, 1, 14, 8, 0, 0, 0, time.UTC) }

func bench(t require.TestingT) *Shop {
	s, err := NewShop(Setup{
		Places: []string{"bench", "pattern"},
		Probes: []Probe{
			{Name: "air", Place: "bench", Every: time.Minute},
			{Name: "skin", Place: "pattern", Every: time.Minute},
		},
	})
	require.NoError(t, err)
	return s
}

func airReading(probe string, at time.Time, tempC, humidity float64) sensors.Reading {
	r := sensors.Reading{Probe: probe, At: at, Temp: sensors.GoodMeasure(tempC)}
	if !math.IsNaN(humidity) {
		r.Humidity = sensors.GoodMeasure(humidity)
	}
	return r
}

// steady feeds both probes a steady shop for a span, a reading a minute.
func steady(s *Shop, from time.Time, span time.Duration, tempC float64) time.Time {
	at := from
	for ; !at.After(from.Add(span)); at = at.Add(time.Minute) {
		s.Reading(airReading("air", at, tempC, 0.5))
		s.Reading(airReading("skin", at, tempC, math.NaN()))
	}
	return at.Add(-time.Minute)
}

// markWork marks a whole mold quickly, all its steps begun at one instant after another.
func markWork(t require.TestingT, s *Shop, from time.Time, marks ...Mark) {
	for i, m := range marks {
		m.ID, m.Mold = int64(i+1), "frieze"
		if m.At.IsZero() {
			m.At = from
		}
		require.NoError(t, s.Mark(m))
	}
}

func records(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(name)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// stepMarks are the marks that lead up to one kind of step, all at one instant.
func stepMarks(kind string) []Mark {
	all := []Mark{{Kind: Begun, Place: "bench", Surface: "pattern", Material: "platinum-slow"}}
	switch kind {
	case "coat":
		return append(all, Mark{Kind: CoatOn, Material: "lacquer"})
	case "release":
		return append(all, Mark{Kind: ReleaseOn, Material: "wax-naphtha"})
	case "batch":
		return append(all, Mark{Kind: Mixed})
	}
	return append(all, Mark{Kind: Mixed}, Mark{Kind: Poured})
}

func TestMainJobAtRoomAndCold(t *testing.T) {
	for _, row := range records(t, "testdata/room.csv") {
		t.Run(row["step"]+" at "+row["temp_c"], func(t *testing.T) {
			s := bench(t)
			tempC := number(t, row["temp_c"])
			last := steady(s, begin().Add(-5*24*time.Hour), 5*24*time.Hour, tempC)
			markWork(t, s, begin(), stepMarks(row["step"])...)
			told := lastStep(s.Outlook(last))
			require.Equal(t, Running, told.Standing, told.Why)
			require.True(t, told.Band.Earliest.Before(told.Band.Likely) && told.Band.Likely.Before(told.Band.Latest))
			came := lastStep(s.Outlook(steady(s, begin(), 24*time.Hour, tempC))).Band
			minutes := came.Likely.Sub(begin()).Minutes()
			if row["likely_min"] != "" {
				require.InDelta(t, number(t, row["likely_min"]), minutes, 0.05)
			} else {
				require.Greater(t, minutes, number(t, row["longer_than_min"]))
			}
			require.InEpsilon(t, minutes, told.Band.Likely.Sub(begin()).Minutes(), 0.02, "told at the beginning")
			slack := time.Duration(0.05 * float64(came.Latest.Sub(begin())))
			require.False(t, came.Latest.After(told.Band.Latest.Add(slack)), "a steady shop is no later than was told: %v, %v", came, told.Band)
		})
	}
}

func TestReadyExactlyFromTheConservativeEnd(t *testing.T) {
	for _, kind := range []string{"coat", "cure"} {
		s := bench(t)
		steady(s, begin().Add(-time.Hour), time.Hour, 22.5)
		markWork(t, s, begin(), stepMarks(kind)...)
		ready := false
		for at := begin(); at.Before(begin().Add(8 * time.Hour)); at = at.Add(10 * time.Minute) {
			last := steady(s, at, 10*time.Minute, 22.5)
			got := lastStep(s.Outlook(last))
			require.Equal(t, !last.Before(got.Band.Latest), got.Standing == Ready, "%s at %s", kind, last)
			require.False(t, ready && got.Standing != Ready, "ready is not taken back")
			ready = got.Standing == Ready
		}
		require.True(t, ready, kind)
	}
}

func lastStep(o *Outlook) Step {
	steps := o.Molds[0].Steps
	return steps[len(steps)-1]
}

func TestSilentProbeNeverSaysReady(t *testing.T) {
	s := bench(t)
	last := steady(s, begin().Add(-time.Hour), 2*time.Hour, 22.5)
	markWork(t, s, begin(), stepMarks("cure")...)
	got := lastStep(s.Outlook(last.Add(20 * time.Hour)))
	require.Equal(t, CannotSay, got.Standing)
	require.False(t, got.Band.Told())
	require.Contains(t, got.Why, "probe air is silent")
}

func TestGapWidensTheBand(t *testing.T) {
	width := func(hole time.Duration) time.Duration {
		s := bench(t)
		steady(s, begin().Add(-time.Hour), 90*time.Minute, 20)
		markWork(t, s, begin(), stepMarks("cure")...)
		last := steady(s, begin().Add(30*time.Minute+hole), time.Hour, 20)
		b := lastStep(s.Outlook(last)).Band
		return b.Latest.Sub(b.Earliest)
	}
	whole, short, long := width(time.Minute), width(time.Hour), width(90*time.Minute)
	require.Less(t, whole, short)
	require.Less(t, short, long)
}

func TestBelowTheFloorNothingIsTold(t *testing.T) {
	s := bench(t)
	last := steady(s, begin().Add(-time.Hour), 3*time.Hour, -2)
	markWork(t, s, begin(), stepMarks("cure")...)
	got := lastStep(s.Outlook(last))
	require.Equal(t, CannotSay, got.Standing)
	require.Zero(t, got.Share)
	require.False(t, got.Band.Told())
}

func TestTackyPastItsTimeIsDoubtful(t *testing.T) {
	s := bench(t)
	steady(s, begin().Add(-time.Hour), time.Hour, 22.5)
	markWork(t, s, begin(), stepMarks("cure")...)
	last := steady(s, begin(), 8*time.Hour, 22.5)
	require.Equal(t, Ready, lastStep(s.Outlook(last)).Standing)
	require.NoError(t, s.Mark(Mark{ID: 9, Mold: "frieze", Kind: Checked, Of: Cup, Found: Tacky, At: last}))
	require.Equal(t, Doubtful, lastStep(s.Outlook(last)).Standing, "no projection overrides a tacky cup past its time")
}

// What the shop tells follows from the set of readings and marks, not from the order they came in.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(20, 120).Draw(t, "readings")
		var readings []sensors.Reading
		at := map[string]time.Time{"air": begin().Add(-30 * time.Minute), "skin": begin().Add(-29 * time.Minute)}
		for range n {
			probe := rapid.SampledFrom([]string{"air", "skin"}).Draw(t, "probe")
			at[probe] = at[probe].Add(time.Duration(rapid.SampledFrom([]int{7, 60, 61, 300, 1200, 9000}).Draw(t, "after")) * time.Second)
			readings = append(readings, airReading(probe, at[probe], rapid.Float64Range(-3, 35).Draw(t, "temp"), rapid.Float64Range(0.2, 1).Draw(t, "rh")))
		}
		marks := []Mark{
			{ID: 1, Mold: "frieze", Kind: Begun, At: begin(), Place: "bench", Surface: "pattern", Material: "platinum-slow"},
			{ID: 2, Mold: "frieze", Kind: CoatOn, At: begin().Add(3 * time.Minute), Material: "lacquer"},
			{ID: 3, Mold: "frieze", Kind: ReleaseOn, At: begin().Add(100 * time.Minute), Material: "wax-naphtha"},
			{ID: 4, Mold: "frieze", Kind: Mixed, At: begin().Add(3 * time.Hour)},
			{ID: 5, Mold: "frieze", Kind: Poured, At: begin().Add(200 * time.Minute)},
			{ID: 6, Mold: "frieze", Kind: Mixed, At: begin().Add(170 * time.Minute), Corrects: 4},
		}
		end := begin().Add(400 * time.Hour)
		want := folded(t, readings, marks, 0).Outlook(end)
		order := rapid.Permutation(readings).Draw(t, "order")
		got := folded(t, order, marks, rapid.IntRange(0, n).Draw(t, "marks after")).Outlook(end)
		if !reflect.DeepEqual(plain(want), plain(got)) {
			t.Fatalf("told in order:\n%+v\ntold out of order:\n%+v", lastStep(want), lastStep(got))
		}
	})
}

// folded gives a shop all marks after the first few readings.
func folded(t require.TestingT, readings []sensors.Reading, marks []Mark, after int) *Shop {
	s := bench(t)
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

func markAll(t require.TestingT, s *Shop, marks []Mark) {
	for _, m := range marks {
		require.NoError(t, s.Mark(m))
	}
}

// plain makes outlooks comparable: NaN equals NaN.
func plain(o *Outlook) Outlook {
	out := *o
	out.Places = append([]PlaceOutlook(nil), o.Places...)
	for i := range out.Places {
		p := &out.Places[i]
		for _, v := range []*float64{&p.TempC, &p.Humidity, &p.DewPointC} {
			if math.IsNaN(*v) {
				*v = -999
			}
		}
	}
	out.Probes = append([]ProbeOutlook(nil), o.Probes...)
	for i := range out.Probes {
		if p := &out.Probes[i]; math.IsNaN(p.Humidity) {
			p.Humidity = -999
		}
		if p := &out.Probes[i]; math.IsNaN(p.TempC) {
			p.TempC = -999
		}
	}
	return out
}

// A shop that hears only what Needs asks for tells the same as one that heard everything.
func TestNeedsIsEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var readings []sensors.Reading
		at := begin().Add(-100 * time.Hour)
		for range rapid.IntRange(50, 300).Draw(t, "readings") {
			at = at.Add(time.Duration(rapid.SampledFrom([]int{60, 600, 1200, 9000, 100_000}).Draw(t, "after")) * time.Second)
			probe := rapid.SampledFrom([]string{"air", "air", "skin"}).Draw(t, "probe")
			readings = append(readings, airReading(probe, at, rapid.Float64Range(5, 30).Draw(t, "temp"), 0.5))
		}
		from := rapid.SampledFrom(readings).Draw(t, "begun").At
		hours := func(what string) time.Time {
			return from.Add(time.Duration(rapid.IntRange(10, 3000).Draw(t, what)) * time.Minute)
		}
		off := hours("demolded")
		marks := []Mark{
			{ID: 1, Mold: "frieze", Kind: Begun, At: from, Place: "bench", Surface: "pattern", Material: "platinum-slow"},
			{ID: 2, Mold: "frieze", Kind: Mixed, At: from},
			{ID: 3, Mold: "frieze", Kind: Poured, At: from.Add(9 * time.Minute)},
			{ID: 4, Mold: "frieze", Kind: Demolded, At: off},
			{ID: 5, Mold: "frieze", Kind: Checked, At: hours("checked"), Of: Cup, Found: Firm},
			{ID: 6, Mold: "cornice", Kind: Begun, At: off, Place: "bench", Material: "platinum-slow"},
			{ID: 7, Mold: "cornice", Kind: Mixed, At: off},
			{ID: 8, Mold: "cornice", Kind: Poured, At: off.Add(9 * time.Minute)},
		}
		marks = marks[:rapid.SampledFrom([]int{3, 4, 5, 8}).Draw(t, "marks")]
		if rapid.Bool().Draw(t, "much later") { // of what is over only what it taught still counts
			for range 9 {
				at = at.Add(time.Duration(rapid.IntRange(1, 300).Draw(t, "days")) * 24 * time.Hour)
				readings = append(readings, airReading("air", at, 18, 0.5))
			}
		}
		all := folded(t, readings, marks, 0)
		all.Forget()
		again := bench(t)
		markAll(t, again, marks)
		needs := again.Needs(at)
		for _, r := range readings {
			for _, span := range needs {
				if !r.At.Before(span.From) && r.At.Before(span.To) {
					again.Reading(r)
				}
			}
		}
		want, got := plain(all.Outlook(at)), plain(again.Outlook(at))
		if !reflect.DeepEqual(want.Molds, got.Molds) {
			t.Fatalf("heard everything:\n%+v\nheard what was needed:\n%+v", lastStep(&want), lastStep(&got))
		}
	})
}
