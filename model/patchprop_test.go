package model

import (
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pourward/model/doubt"
	"pourward/sensors"
)

// patchReadings are readings of a few days with gaps.
func patchReadings(t *rapid.T, low, high float64) []sensors.Reading {
	var out []sensors.Reading
	at := begin().Add(-40 * time.Minute)
	for range rapid.IntRange(20, 150).Draw(t, "readings") {
		at = at.Add(time.Duration(rapid.SampledFrom([]int{60, 300, 600, 1200, 9000, 100_000}).Draw(t, "after")) * time.Second)
		out = append(out, airReading("air", at, rapid.Float64Range(low, high).Draw(t, "temp"), 0.5))
	}
	return out
}

// patchMarks are two patches, one of them corrected, and a mold that they may vouch for.
func patchMarks(t *rapid.T) []Mark {
	found := func() Finding { return rapid.SampledFrom(Findings()).Draw(t, "found") }
	hours := func() time.Duration {
		return time.Duration(rapid.IntRange(30, 1800).Draw(t, "minutes")) * time.Minute
	}
	a, b := patchOn("p1", "wet plaster"), patchOn("p2", "Wet-Plaster", "lacquer")
	a.ID, b.ID = 1, 2
	set := b
	set.ID, set.Corrects, set.Prep = 5, 2, nil
	return []Mark{
		a, b,
		{ID: 3, Kind: Checked, Mold: "p1", Of: Patch, Found: found(), At: begin().Add(hours())},
		{ID: 4, Kind: Checked, Mold: "p1", Of: Cup, Found: rapid.SampledFrom([]Finding{Firm, Tacky}).Draw(t, "cup"), At: begin().Add(hours())},
		set,
		{ID: 6, Kind: Checked, Mold: "p2", Of: Patch, Found: found(), At: begin().Add(hours())},
		{ID: 7, Kind: Begun, Mold: "frieze", At: begin().Add(time.Hour), Place: "bench", Material: "platinum-slow", Face: "wet plaster"},
	}
}

// What is told of patches follows from the set of readings and marks, not from the order they came in.
func TestPatchesInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		readings, marks := patchReadings(t, -3, 35), patchMarks(t)
		end := begin().Add(400 * time.Hour)
		want := folded(t, readings, marks, 0).Outlook(end)
		late := folded(t, rapid.Permutation(readings).Draw(t, "order"), marks, rapid.IntRange(0, len(readings)).Draw(t, "marks after"))
		got := late.Outlook(end)
		if !reflect.DeepEqual(want.Patches, got.Patches) || !reflect.DeepEqual(want.Trials, got.Trials) || !reflect.DeepEqual(want.Molds, got.Molds) {
			t.Fatalf("told in order:\n%+v\ntold out of order:\n%+v", want.Patches, got.Patches)
		}
	})
}

// A shop that hears only what Needs asks for tells the same of its patches as one that heard everything, and
// so does one that forgets now and then.
func TestNeedsOfPatchesAreEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		readings, marks := patchReadings(t, 5, 30), patchMarks(t)
		marks = marks[:rapid.IntRange(1, len(marks)).Draw(t, "marks")]
		far := readings[len(readings)-1].At.Add(time.Duration(rapid.SampledFrom([]int{1, 300, 3000, 11000}).Draw(t, "later")) * time.Hour)
		for i := range 40 {
			readings = append(readings, airReading("air", far.Add(time.Duration(i)*10*time.Minute), 18, 0.5))
		}
		end := readings[len(readings)-1].At
		all := bench(t)
		markAll(t, all, marks)
		for i, r := range readings {
			all.Reading(r)
			if i%25 == 0 {
				all.Forget()
			}
		}
		again := bench(t)
		markAll(t, again, marks)
		needs := again.Needs(end)
		for _, r := range readings {
			for _, span := range needs {
				if !r.At.Before(span.From) && r.At.Before(span.To) {
					again.Reading(r)
				}
			}
		}
		want, got := all.Outlook(end), again.Outlook(end)
		if !reflect.DeepEqual(want.Patches, got.Patches) || !reflect.DeepEqual(want.Molds, got.Molds) {
			t.Fatalf("heard everything:\n%+v\nheard what was needed:\n%+v", want.Patches, got.Patches)
		}
	})
}

// However cold the patch was and however cold the mold is: beyond the margin no warmer patch vouches.
func TestNoWarmerPatchVouches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		patchC, moldC := rapid.Float64Range(5, 30).Draw(t, "patch"), rapid.Float64Range(5, 30).Draw(t, "mold")
		s := bench(t)
		for at := begin().Add(-time.Hour); at.Before(begin().Add(60 * time.Hour)); at = at.Add(10 * time.Minute) {
			s.Reading(airReading("air", at, patchC, 0.5))
		}
		marked(t, s, patchOn("p1", "wet plaster"), Mark{Kind: Checked, Mold: "p1", Of: Patch, Found: Firm, At: begin().Add(59 * time.Hour)})
		now := begin().Add(64 * time.Hour)
		for at := now.Add(-3 * time.Hour); !at.After(now); at = at.Add(10 * time.Minute) {
			s.Reading(airReading("air", at, moldC, 0.5))
		}
		marked(t, s, Mark{Kind: Begun, Mold: "frieze", At: now.Add(-time.Hour), Place: "bench", Material: "platinum-slow", Face: "wet plaster"})
		o := s.Outlook(now)
		if v := o.Molds[0].Vouch; v != nil && moldC < patchC-doubt.VouchMarginK {
			t.Fatalf("a patch at %g °C vouches at %g °C", patchC, moldC)
		}
		if p := o.Patches[0]; p.State == PatchPassed && !(p.Cold.LowestC <= p.Cold.MeanC+1e-9) {
			t.Fatalf("%+v", p.Cold)
		}
	})
}

// Adding a failed patch never makes a mold fit, and never takes a reason that decides away.
func TestAFailedPatchNeverMakesItFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		readings, marks := patchReadings(t, 15, 30), patchMarks(t)
		end := begin().Add(36 * time.Hour)
		before := folded(t, readings, marks, 0).Outlook(end).Molds[0].Pour
		p3 := patchOn("p3", rapid.SampledFrom([]string{"wet plaster", "oil clay"}).Draw(t, "face"))
		p3.ID = 20
		marks = append(marks, p3, Mark{ID: 21, Kind: Checked, Mold: "p3", Of: Patch, Found: Spoiled, At: begin().Add(10 * time.Hour)})
		after := folded(t, readings, marks, 0).Outlook(end).Molds[0].Pour
		if after.Verdict == Fit && before.Verdict != Fit {
			t.Fatalf("not fit before: %+v, fit after: %+v", before, after)
		}
		for _, r := range before.Reasons {
			if !r.Caution && !hasReason(after, r.Code) {
				t.Fatalf("%s was taken away by a failed patch: %+v", r.Code, after)
			}
		}
	})
}

func hasReason(f Fitness, code ReasonCode) bool {
	for _, r := range f.Reasons {
		if r.Code == code {
			return true
		}
	}
	return false
}
