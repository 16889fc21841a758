package model_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/sensors"
)

// with is the same history with other readings.
func (h *told) with(readings []sensors.Reading) *told {
	other := *h
	other.readings, other.marks, other.rng = readings, nil, rand.New(rand.NewPCG(1, 2))
	return &other
}

// Every temperature lower by the same: nothing has come further by then, and nothing is ready sooner.
func TestColderNeverCuresSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		marks := h.drawMarks(t)
		by := float64(rapid.IntRange(1, 8000).Draw(t, "millikelvin")) / 1000
		cold := slices.Clone(h.readings)
		for i := range cold {
			cold[i].Temp.Value -= by
		}
		colder := h.with(cold)
		warm, cool := h.outlook(h.tell(t, marks)), colder.outlook(colder.tell(t, marks))
		require.Len(t, cool.Molds, len(warm.Molds))
		for i := range warm.Molds {
			for k, w := range warm.Molds[i].Steps {
				c := cool.Molds[i].Steps[k]
				if w.Kind == model.CoatDry || w.Kind == model.ReleaseDry {
					continue // one that is held up by heat or dew follows no such rule
				}
				require.LessOrEqual(t, c.Share, w.Share+1e-12, "%s", w.Name)
				if reached(w) && reached(c) {
					require.False(t, c.Band.Likely.Before(w.Band.Likely), "%s: %v, %v", w.Name, c.Band, w.Band)
					require.False(t, c.Band.Latest.Before(w.Band.Latest), "%s: %v, %v", w.Name, c.Band, w.Band)
				}
			}
		}
	})
}

// reached reports whether a band is one that was passed, and not one to come.
func reached(s model.Step) bool {
	return s.Band.Told() && (s.Standing == model.Ready || s.Standing == model.Over || s.Standing == model.Closed)
}

// Take readings out that lay on the way between their neighbors, so that a gap opens or two become one: the band is
// never narrower on either side. What is allowed is the rounding of the readings.
func TestLessMeasuredNeverNarrowsTheBand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		h.setup.Probes = h.setup.Probes[:1]
		h.end = h.begun.Add(40 * time.Hour)
		h.readings = nil
		every := 10 * time.Minute
		from, to := rapid.Float64Range(12, 25).Draw(t, "from"), rapid.Float64Range(12, 25).Draw(t, "to")
		for at := h.begun; at.Before(h.end); at = at.Add(every) {
			share := at.Sub(h.begun).Seconds() / h.end.Sub(h.begun).Seconds()
			h.readings = append(h.readings, sensors.Reading{Probe: "air", At: at, Temp: sensors.GoodMeasure(from + (to-from)*share)}.Rounded())
		}
		marks := []model.Mark{
			{ID: 1, Mold: "frieze", Kind: model.Begun, At: h.begun, Place: "bench", Material: "platinum-slow"},
			{ID: 2, Mold: "frieze", Kind: model.Mixed, At: h.begun}, {ID: 3, Mold: "frieze", Kind: model.Poured, At: h.begun},
		}
		few, fewer := slices.Clone(h.readings), []sensors.Reading(nil)
		for range rapid.IntRange(0, 4).Draw(t, "gaps before") {
			few = without(few, rapid.IntRange(1, 60).Draw(t, "at"), rapid.IntRange(1, 20).Draw(t, "long"))
		}
		fewer = without(slices.Clone(few), rapid.IntRange(1, len(few)-2).Draw(t, "at"), rapid.IntRange(1, 30).Draw(t, "long"))
		more, less := h.with(few), h.with(fewer)
		wide := less.outlook(less.tell(t, marks)).Molds[0].Steps
		for k, w := range more.outlook(more.tell(t, marks)).Molds[0].Steps {
			if reached(w) && reached(wide[k]) {
				const allowed = 100 * time.Millisecond
				require.False(t, wide[k].Band.Earliest.After(w.Band.Earliest.Add(allowed)), "%s: %v, %v", w.Name, wide[k].Band, w.Band)
				require.False(t, wide[k].Band.Latest.Before(w.Band.Latest.Add(-allowed)), "%s: %v, %v", w.Name, wide[k].Band, w.Band)
			}
		}
	})
}

// without takes n readings out; the first and the last stay.
func without(all []sensors.Reading, at, n int) []sensors.Reading {
	at = min(at, len(all)-2)
	return slices.Delete(all, at, min(at+n, len(all)-1))
}

// Folded anew from the stretches of the record that it asks for, marks first, a shop tells the same to the last bit.
func TestRefoldingEqualsFolding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		s := h.tell(t, h.drawMarks(t))
		s.Forget()
		again, err := model.NewShop(h.setup)
		require.NoError(t, err)
		for _, m := range h.marks {
			require.NoError(t, again.Mark(m))
		}
		slices.SortFunc(h.readings, func(a, b sensors.Reading) int { return a.At.Compare(b.At) })
		last := h.readings[len(h.readings)-1].At
		for _, span := range again.Needs(last) {
			for _, r := range h.readings {
				if !r.At.Before(span.From) && r.At.Before(span.To) {
					again.Reading(r)
				}
			}
		}
		require.Equal(t, h.outlook(s).Molds, h.outlook(again).Molds)
	})
}
