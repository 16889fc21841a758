package model_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/model/material"
	"pourward/sensors"
)

// told is a history in the making: what is to be told to a shop, and in what order.
type told struct {
	history
	rng    *rand.Rand
	begun  time.Time
	end    time.Time
	orders int // 0 = in order, 1 = readings shuffled near by, 2 = shuffled throughout
}

// drawHistory invents some hours of a shop with two probes on the bench, a warm box and a probe on the pattern,
// and the marks of one mold.
func drawHistory(t *rapid.T) *told {
	h := &told{
		rng:    rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0)),
		begun:  time.Date(2026, 1, 14, 8, 0, 0, 0, time.UTC),
		orders: rapid.IntRange(0, 2).Draw(t, "order"),
	}
	h.end = h.begun.Add(time.Duration(rapid.IntRange(2, 30).Draw(t, "hours")) * time.Hour)
	every := time.Duration(rapid.SampledFrom([]int{1, 4, 7}).Draw(t, "every")) * time.Minute
	h.setup = model.Setup{
		Places: []string{"bench", "box", "pattern"}, Shelf: material.Generic(),
		Probes: []model.Probe{
			{Name: "air", Place: "bench", Every: every, AccuracyK: 0.3},
			{Name: "spare", Place: "bench", Every: every, AccuracyK: 0.8},
			{Name: "warm", Place: "box", Every: every, AccuracyK: 0.4},
			{Name: "skin", Place: "pattern", Every: every, AccuracyK: 0.2},
		},
	}
	middle := rapid.Float64Range(4, 26).Draw(t, "middle")
	for _, p := range h.setup.Probes {
		offset := map[string]float64{"warm": 8, "spare": 0.7, "skin": -1}[p.Name]
		h.readings = append(h.readings, h.walk(p, middle+offset)...)
	}
	return h
}

// walk lets one probe speak, now and then not for a while, now and then not at all.
func (h *told) walk(p model.Probe, at float64) []sensors.Reading {
	var out []sensors.Reading
	target, hum := at, 0.3+0.6*h.rng.Float64()
	dry := p.Name == "spare" || p.Name == "skin"
	begin := h.begun.Add(time.Duration(h.rng.IntN(120)-90) * time.Minute)
	step := max(p.Every, h.end.Sub(h.begun)/150) // no more than a plain loop can take
	for when := begin; when.Before(h.end); when = when.Add(step/2 + time.Duration(h.rng.Int64N(int64(step)))) {
		if h.rng.IntN(40) == 0 {
			when = when.Add(time.Duration(h.rng.ExpFloat64() * float64(2*time.Hour)))
		}
		if h.rng.IntN(30) == 0 {
			target = at + 6*h.rng.NormFloat64()
		}
		at += (target-at)/10 + 0.2*h.rng.NormFloat64()
		at = min(40, max(-2, at))
		hum = min(0.97, max(0.1, hum+0.02*h.rng.NormFloat64()))
		r := sensors.Reading{Probe: p.Name, At: when, Temp: sensors.GoodMeasure(at)}
		if !dry {
			r.Humidity = sensors.GoodMeasure(hum)
		}
		if r = r.Rounded(); when.Before(h.end) {
			out = append(out, r)
		}
	}
	return out
}

// drawMarks invents the marks of a mold in the order in which they are entered: some at a wrong time and corrected,
// some that never happened.
func (h *told) drawMarks(t *rapid.T) []model.Mark {
	var out []model.Mark
	surface := func() string { return []string{"", "pattern"}[h.rng.IntN(2)] }
	enter := func(m model.Mark) {
		m.Mold, m.ID = "frieze", int64(len(out)+1)
		out = append(out, m)
	}
	at, spread := h.begun, h.end.Sub(h.begun)/8
	for _, m := range h.work(t, surface) {
		m.At = at
		switch h.rng.IntN(5) {
		case 0:
			right := m
			m.At = at.Add(time.Duration(h.rng.Int64N(int64(time.Hour))))
			enter(m)
			right.Corrects = int64(len(out))
			enter(right)
		case 1:
			enter(m)
			wrong := model.Mark{Kind: model.Moved, At: at.Add(time.Minute), Place: "box"}
			enter(wrong)
			enter(model.Mark{Kind: model.Withdrawn, At: at.Add(time.Hour), Corrects: int64(len(out))})
		default:
			enter(m)
		}
		at = at.Add(time.Duration(h.rng.Int64N(int64(spread))))
	}
	return out
}

// work is what is done to the mold, one thing after the other.
func (h *told) work(t *rapid.T, surface func() string) []model.Mark {
	rubber := rapid.SampledFrom([]string{"platinum-slow", "platinum-fast", "tin-silicone", "polyurethane-rubber"}).Draw(t, "rubber")
	out := []model.Mark{{Kind: model.Begun, Place: "bench", Surface: surface(), Material: rubber}}
	for range h.rng.IntN(3) {
		out = append(out, model.Mark{Kind: model.CoatOn, Material: []string{"lacquer", "shellac", "water-borne"}[h.rng.IntN(3)]})
	}
	if h.rng.IntN(2) == 0 {
		out = append(out, model.Mark{Kind: model.ReleaseOn, Material: []string{"wax-naphtha", "wax-spirit"}[h.rng.IntN(2)]})
	}
	on := []model.MarkKind{model.Poured, model.LayerOn}[h.rng.IntN(2)]
	for range 1 + h.rng.IntN(3) {
		out = append(out, model.Mark{Kind: model.Mixed}, model.Mark{Kind: on})
	}
	if h.rng.IntN(3) == 0 {
		out = append(out, model.Mark{Kind: model.Demolded})
	}
	for range h.rng.IntN(4) {
		i := 1 + h.rng.IntN(len(out))
		if out[i-1].Kind != model.Demolded {
			out = slices.Insert(out, i, model.Mark{Kind: model.Moved, Place: []string{"bench", "box"}[h.rng.IntN(2)], Surface: surface()})
		}
	}
	return out
}

// tell tells the shop everything, marks in order of their numbers and anywhere among the readings. A mark that is
// refused is left out.
func (h *told) tell(t require.TestingT, marks []model.Mark) *model.Shop {
	s, err := model.NewShop(h.setup)
	require.NoError(t, err)
	rs := slices.Clone(h.readings)
	slices.SortFunc(rs, func(a, b sensors.Reading) int { return a.At.Compare(b.At) })
	near := map[int]int{0: 1, 1: 8, 2: len(rs)}[h.orders]
	for i := 0; i < len(rs); i += near {
		part := rs[i:min(i+near, len(rs))]
		h.rng.Shuffle(len(part), func(a, b int) { part[a], part[b] = part[b], part[a] })
	}
	after := make([]int, len(marks)) // how many readings come before each mark
	for i := range after {
		after[i] = h.rng.IntN(len(rs) + 1)
	}
	slices.Sort(after)
	for n, i := 0, 0; n <= len(rs); n++ {
		for ; i < len(marks) && after[i] <= n; i++ {
			if s.Mark(marks[i]) == nil {
				h.marks = append(h.marks, marks[i])
			}
		}
		if n < len(rs) {
			s.Reading(rs[n])
		}
	}
	return s
}

// outlook is what the shop tells at last.
func (h *told) outlook(s *model.Shop) *model.Outlook {
	last := h.begun
	for _, r := range h.readings {
		if r.At.After(last) {
			last = r.At
		}
	}
	for _, m := range h.marks {
		if m.At.After(last) {
			last = m.At
		}
	}
	return s.Outlook(last)
}

// The incremental engine against the plain one: ages within 1e-9 of each other, instants within 2 ms, whatever the
// order in which readings and marks came. A coat's clock is stated to 1e-3 of its dry time.
func TestEngineAgainstPlainLoops(t *testing.T) {
	q, compared := newQuadrature(), map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t)
		s := h.tell(t, h.drawMarks(t))
		o := h.outlook(s)
		if len(o.Molds) == 0 {
			return
		}
		steps, waits := o.Molds[0].Steps, h.waits()
		require.Len(t, steps, len(waits))
		for i, w := range waits {
			st := steps[i]
			name := fmt.Sprintf("%s from %s to %v", st.Name, st.Begun.Format(time.TimeOnly), st.Ended)
			require.Equal(t, w.kind, st.Kind, name)
			require.Equal(t, w.mark.ID, st.Mark, name)
			if w.kind == model.CoatDry || w.kind == model.ReleaseDry {
				compared["coats dry"] += h.compareCoat(t, w, st, name)
				compared["coats"]++
				continue
			}
			compared["cures"]++
			compared["cures through"] += h.compareCure(t, w, st, q, name)
		}
	})
	t.Logf("compared: %v", compared)
	for _, what := range []string{"coats", "coats dry", "cures", "cures through"} {
		require.Positive(t, compared[what], "too few %s to mean anything", what)
	}
}

// compareCure compares one cure and returns 1 where it is through.
func (h *told) compareCure(t require.TestingT, w waited, st model.Step, q quadrature, name string) int {
	for i, want := range h.cures(w, q) {
		got := st.Band
		if i == 0 {
			ref := st.RoomTime.Seconds()
			require.InDelta(t, min(1, want.age/ref), st.Share, 1e-9*max(1e-3, want.age/ref), "age of %s", name)
		} else if got = st.Closes; st.Standing == model.Closed {
			continue // its closing is told in words only
		}
		if want.crossed[2] == 0 {
			require.NotEqual(t, model.Ready, st.Standing, name)
			continue
		}
		if !got.Told() && (st.Standing == model.CannotSay || st.Standing == model.Over) {
			continue // silent since
		}
		compareBand(t, want.crossed, got, name)
		return 1
	}
	return 0
}

func compareBand(t require.TestingT, want [3]float64, got model.Band, name string) {
	for i := 1; i < len(want); i++ {
		want[i] = max(want[i], want[i-1])
	}
	for i, at := range []time.Time{got.Earliest, got.Likely, got.Latest} {
		require.InDelta(t, want[i], float64(at.UnixMilli()), 2, "place %d of %s: told %v", i, name, at)
	}
}

// compareCoat compares one coat and returns 1 where it is dry.
func (h *told) compareCoat(t require.TestingT, w waited, st model.Step, name string) int {
	spans := h.spans(w.from, w.end, false)
	likely := newFilm(w.of, 0)
	tol := likely.tolerance(spans, w.end)
	require.InDelta(t, min(1, likely.share(spans, w.end)), st.Share, tol, name)
	if latest := newFilm(w.of, tenth).share(spans, w.end); math.Abs(latest-1) > tol && st.Standing != model.CannotSay {
		require.Equal(t, latest > 1, st.Standing == model.Ready || st.Standing == model.Closed && st.Band.Told(), "%s: %v %v", name, latest, st)
	}
	if !st.Band.Told() || st.Standing != model.Ready && st.Standing != model.Closed {
		return 0
	}
	for i, at := range []time.Time{st.Band.Earliest, st.Band.Likely, st.Band.Latest} {
		require.InDelta(t, 1, newFilm(w.of, scores()[i]).share(spans, at.UnixMilli()), tol+1.5/w.of.Coat.Ref.Seconds(),
			"place %d of %s", i, name)
	}
	return 1
}
