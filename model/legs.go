package model

import "math"

// stand is where a mold stands from an instant on, until it is carried on.
type stand struct {
	from      int64 // Unix milliseconds; the first reaches back as far as anything is known
	air, surf *place
}

// leg is a stand as its steps walk it: the tracks it is felt by from one instant to another.
type leg struct {
	from, to  int64
	air, surf *track
}

// stands lists where the marks say the mold stood. A probe on the pattern comes along where the move names
// it again; else it is left behind.
func (s *Shop) stands(marks []Mark) []stand {
	var out []stand
	for _, m := range marks {
		if m.Kind != Begun && m.Kind != Moved && m.Kind != PatchOn {
			continue
		}
		at := stand{from: m.At.UnixMilli(), air: s.places[m.Place]}
		if m.Surface != "" && m.Surface != m.Place {
			at.surf = s.places[m.Surface]
		}
		switch n := len(out); {
		case n == 0:
			at.from = math.MinInt64
			out = append(out, at)
		case out[n-1].from == at.from:
			out[n-1] = at
		case out[n-1].air != at.air || out[n-1].surf != at.surf:
			out = append(out, at)
		}
	}
	return out
}

// legsOf are the stands as they are walked.
func legsOf(stands []stand) []leg {
	legs := make([]leg, len(stands))
	for i, s := range stands {
		legs[i] = leg{from: s.from, to: math.MaxInt64, air: &s.air.track}
		if s.surf != nil {
			legs[i].surf = &s.surf.track
		}
		if i > 0 {
			legs[i-1].to = s.from
		}
	}
	return legs
}

// overlaps reports whether the stand that ends at to holds at any time of a span; end 0 is not over.
func (s stand) overlaps(to, from, end int64) bool {
	return to > from && (end == 0 || s.from <= end)
}

// border is the instant up to which a leg that ends at to is complete. What was not measured at its end
// is waited for no longer once the next place is heard; when it comes after all, the walk begins anew.
func (w *pieces) border(to int64) int64 {
	known := w.limit()
	switch {
	case known >= to && w.seamless():
		return min(known, w.air.get(w.air.after(to-1)).at, w.legs[w.k+1].to)
	case known < to && w.heardNext() == nil:
		return known
	case known < to:
		if at, ok := w.awaited(); ok && at < to {
			return at
		}
	}
	return to
}

// awaited is the newest sample of a probe on the pattern that comes along with the mold and has been quiet for
// less than a gap: it is waited for as if the mold had stayed.
func (w *pieces) awaited() (at int64, ok bool) {
	surf := w.legs[w.k].surf
	if surf == nil || w.legs[w.k+1].surf != surf {
		return 0, false
	}
	s, ok := surf.upTo(w.reach)
	if !ok {
		return 0, false
	}
	newest := int64(math.MinInt64)
	for _, l := range w.legs[w.k:] {
		if l.surf != surf {
			break
		}
		if x, ok := l.air.upTo(w.reach); ok {
			newest = max(newest, x.at)
		}
	}
	return s.at, s.at < newest && newest-s.at <= surf.gap
}

// heardNext is the first sample of a later leg; nil while none is heard.
func (w *pieces) heardNext() *sample {
	for _, l := range w.legs[w.k+1:] {
		if pos := l.air.after(l.from - 1); pos < w.end(l.air) {
			return l.air.get(pos)
		}
	}
	return nil
}

// seamless reports whether the air of this leg and of the next is one line across the move, so that it
// need not be cut there.
func (w *pieces) seamless() bool {
	here, next := w.legs[w.k], w.legs[w.k+1]
	if here.surf != next.surf || here.air.gap != next.air.gap {
		return false
	}
	i, j := here.air.after(here.to-1), next.air.after(here.to-1)
	if i == w.end(here.air) || j == w.end(next.air) || !same(*here.air.get(i), *next.air.get(j)) {
		return false
	}
	known := here.air.holds(i-1, w.since-here.air.gap)
	if known != next.air.holds(j-1, w.since-next.air.gap) {
		return false
	}
	return !known || same(*here.air.get(i - 1), *next.air.get(j - 1))
}

// leave goes on to the leg that the front has come to.
func (w *pieces) leave() {
	seam := w.seamless()
	w.k++
	if !seam {
		w.since, w.carried = w.front, true
	}
	w.enter()
}

// trail sets what is felt at the end of a leg after its last sample: as that was, or where nothing was
// heard at all, as the next place is.
func (w *pieces) trail(p *piece, known bool) {
	var x sample
	if known {
		x = *w.air.get(w.i - 1)
		p.gap = p.b-x.at > w.air.gap
	} else {
		x = *w.heardNext()
		p.gap = true
	}
	p.from = point{air: x.temp, hum: x.hum}
	p.to = p.from
}

// feels reports whether a walk leads over a track.
func feels(legs []leg, t *track) bool {
	for i := range legs {
		if legs[i].air == t || legs[i].surf == t {
			return true
		}
	}
	return false
}

// behind reports whether the newest sample of a track changes what has been walked already.
func (w *pieces) behind(t *track) bool {
	before := t.before()
	for i := range w.legs {
		l := &w.legs[i]
		if (l.air == t || l.surf == t) && l.to > w.from && l.from <= w.front && before < min(w.front, l.to) {
			return true
		}
	}
	return false
}

// lost reports whether readings that the walk began in, up to an instant, are held no more.
func (w *pieces) lost(until int64) bool {
	for i := range w.legs {
		l := &w.legs[i]
		if l.to > w.from && l.from <= until && l.air.base > 0 && len(l.air.s) > 0 && l.air.s[0].at > max(l.from, w.from) {
			return true
		}
	}
	return false
}

// probeK is the accuracy of what the mold was felt by between two instants, the worst where it was moved;
// end 0 is not over. K.
func (m *mold) probeK(from, end int64) float64 {
	worst := 0.0
	for i, s := range m.stands {
		if !s.overlaps(m.legs[i].to, from, end) {
			continue
		}
		worst = max(worst, s.probeK())
	}
	return worst
}

// probeK is the accuracy of what is felt at a stand, K.
func (s stand) probeK() float64 {
	for _, p := range []*place{s.surf, s.air} {
		if p != nil && p.first() != nil {
			return p.first().AccuracyK
		}
	}
	return defaultAccuracyK
}

// gap is the longest gap of the places that the mold was felt by, ms.
func (m *mold) gap() int64 {
	longest := int64(0)
	for _, l := range m.legs {
		longest = max(longest, l.air.gap)
		if l.surf != nil {
			longest = max(longest, l.surf.gap)
		}
	}
	return longest
}
