package model

import "math"

// point is what a step feels at an instant.
type point struct {
	air     float64 // °C
	surface float64 // °C; NaN when no probe sits on the pattern
	hum     float64 // ratio; NaN when not known
}

// felt is the temperature of the thing itself: its surface where that is measured, else the air.
func (p point) felt() float64 {
	if math.IsNaN(p.surface) {
		return p.air
	}
	return p.surface
}

// piece is a span in which everything is linear between its ends, or a gap.
type piece struct {
	a, b     int64 // Unix milliseconds, a < b
	from, to point
	gap      bool // longer than the track's gap between samples of the air, or before the first one
	carried  bool // it begins in other air than the piece before it ended in: the mold was carried there
}

func (p piece) seconds() float64 { return float64(p.b-p.a) / 1000 }

// pieces walks the span of a step over the tracks it feels, in pieces between samples of either. How
// far it gets follows from the tracks alone, not from the order in which their samples came; a sample
// that changes what lies behind the front calls for a walk from the start.
type pieces struct {
	legs      []leg  // places, one after the other; never changed
	k         int    // the leg that the front lies in, the next ones two fields from it
	air, surf *track // surf is nil when the pattern carries no probe
	from      int64
	reach     int64 // samples after this are as if they were not there
	since     int64 // nothing is known of this leg's air from longer than a gap before
	front     int64 // everything before has been walked
	i, j      int   // positions of the next sample after front in air and surf
	carried   bool  // the next piece is the first in other air
}

// start puts the walk back to its beginning.
func (w *pieces) start() {
	w.front, w.since, w.k, w.carried = w.from, w.from, 0, false
	for w.legs[w.k].to <= w.from {
		w.k++
	}
	w.enter()
}

// enter takes up the tracks of the leg that the front lies in.
func (w *pieces) enter() {
	w.air, w.surf = w.legs[w.k].air, w.legs[w.k].surf
	w.i = max(w.air.base, w.air.after(w.front)-1)
	if w.surf != nil {
		w.j = max(w.surf.base, w.surf.after(w.front)-1)
	}
}

// end is the position after the last sample that counts.
func (w *pieces) end(t *track) int { return t.after(w.reach) }

// skip moves a position on to the first sample after the front.
func (w *pieces) skip(t *track, pos int) int {
	for pos = max(pos, t.base); pos < w.end(t) && t.get(pos).at <= w.front; pos++ {
	}
	return pos
}

// limit is the instant up to which both tracks are complete: a surface probe that has been quiet for
// less than a gap is waited for.
func (w *pieces) limit() int64 {
	l, ok := w.air.upTo(w.reach)
	if !ok {
		return w.front
	}
	if w.surf == nil {
		return l.at
	}
	if s, ok := w.surf.upTo(w.reach); ok && s.at < l.at && l.at-s.at <= w.surf.gap {
		return s.at
	}
	return l.at
}

// next returns the piece after the front, no further than until, and moves the front to its end.
func (w *pieces) next(until int64) (piece, bool) {
	end := min(until, w.limit())
	if to := w.legs[w.k].to; to != math.MaxInt64 {
		end = min(until, w.border(to))
	}
	if w.front >= end {
		return piece{}, false
	}
	w.i = w.skip(w.air, w.i)
	p := piece{a: w.front, b: end, carried: w.carried}
	w.carried = false
	if w.i < w.end(w.air) {
		p.b = min(p.b, w.air.get(w.i).at)
	}
	if w.surf != nil {
		if w.j = w.skip(w.surf, w.j); w.j < w.end(w.surf) {
			p.b = min(p.b, w.surf.get(w.j).at)
		}
	}
	w.fill(&p)
	w.front = p.b
	for w.front >= w.legs[w.k].to {
		w.leave()
	}
	return p, true
}

// fill sets what is felt at both ends of the piece.
func (w *pieces) fill(p *piece) {
	switch known := w.air.holds(w.i-1, w.since-w.air.gap); {
	case w.i == w.end(w.air):
		w.trail(p, known)
	case !known: // nothing known from just before the step
		b := w.air.get(w.i)
		p.gap = b.at-p.a > w.air.gap
		p.from = point{air: b.temp, hum: b.hum}
		p.to = p.from
	default:
		a, b := w.air.get(w.i-1), w.air.get(w.i)
		p.gap = b.at-a.at > w.air.gap
		p.from = point{air: between(a, b, p.a, a.temp, b.temp), hum: between(a, b, p.a, a.hum, b.hum)}
		p.to = point{air: between(a, b, p.b, a.temp, b.temp), hum: between(a, b, p.b, a.hum, b.hum)}
	}
	p.from.surface, p.to.surface = w.surface(p)
}

// surface returns the pattern's temperature at both ends, NaN where its probe left a gap.
func (w *pieces) surface(p *piece) (from, to float64) {
	if w.surf == nil || w.j >= w.end(w.surf) || w.j == w.surf.base {
		return math.NaN(), math.NaN()
	}
	a, b := w.surf.get(w.j-1), w.surf.get(w.j)
	if b.at-a.at > w.surf.gap {
		return math.NaN(), math.NaN()
	}
	return between(a, b, p.a, a.temp, b.temp), between(a, b, p.b, a.temp, b.temp)
}

// between is the value at an instant on the line from va at sample a to vb at sample b.
func between(a, b *sample, at int64, va, vb float64) float64 {
	switch at {
	case a.at:
		return va
	case b.at:
		return vb
	}
	return va + (vb-va)*float64(at-a.at)/float64(b.at-a.at)
}
