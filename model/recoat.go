package model

import (
	"math"
	"slices"
	"time"

	"pourward/model/dry"
	"pourward/model/forecast"
	"pourward/model/material"
)

// Recoat is when the next coat may go over one, where its data sheet states that.
type Recoat struct {
	From  time.Time // by then nine in ten take it; zero = not stated, or not told
	Until time.Time // from then on one in ten no longer bonds, or must be sanded first; zero = not stated, or not within a day
}

// recoatLimit runs the clock of a coat to one of the limits of its sheet, at the place of the band that is the
// careful one.
type recoatLimit struct {
	place   int
	coat    dry.Coat
	done    dry.Progress
	reached int64 // 0 = not yet
}

// recoatLimits are those that a sheet states: from when on the next coat may go on, late in the band, and
// until when, early in it.
func recoatLimits(m material.Material, thick float64) []recoatLimit {
	var out []recoatLimit
	for _, l := range []struct {
		place int
		after time.Duration
	}{{late, m.Coat.RecoatFrom}, {early, m.Coat.RecoatUntil}} {
		if l.after > 0 {
			c := dryCoat(m, score(l.place))
			c.Ref, c.Thickness = l.after, thick
			out = append(out, recoatLimit{place: l.place, coat: c})
		}
	}
	return out
}

// advance runs a limit over a piece.
func (l *recoatLimit) advance(p piece) {
	if l.reached != 0 {
		return
	}
	before := l.done
	if l.done = l.coat.Advance(before, dryAir(p.from), dryAir(p.to), p.seconds()); l.done.Done() {
		l.reached = whenDry(l.coat, before, p)
	}
}

// recoat tells when the next coat may go on.
func (t *teller) recoat(m *mold, f *coatFold) (out Recoat) {
	for i := range f.limits {
		l := &f.limits[i]
		at := instant(l.reached)
		if l.reached == 0 {
			at = t.limitAhead(m, f, l)
		}
		if l.place == late {
			out.From = at
		} else {
			out.Until = at
		}
	}
	return out
}

// limitAhead is when a limit is reached by the forecast: late in what the paths differ by for the one that
// opens, early for the one that closes; zero where it is not within a day.
func (t *teller) limitAhead(m *mold, f *coatFold, l *recoatLimit) time.Time {
	sky := t.sky(m)
	if sky.air == nil || sky.air.paths == nil || t.silent(m) != "" || t.broken(f.walk.from, 0) {
		return time.Time{}
	}
	skip := sky.air.skip(f.walk.front)
	hours := make([]float64, coatPaths)
	for n := range hours {
		h, ok := dries(l.coat, l.done, sky.along(n*pathCount/coatPaths, skip))
		if !ok {
			h = math.Inf(1)
		}
		hours[n] = h
	}
	slices.Sort(hours)
	level := nineInTen
	if l.place == early {
		level = oneInTen
	}
	h := forecast.Quantile(hours, level)
	if math.IsInf(h, 0) || math.IsNaN(h) {
		return time.Time{}
	}
	return instant(max(sky.air.from, f.walk.front) + int64(h*3600e3))
}
