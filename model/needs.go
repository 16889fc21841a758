package model

import (
	"slices"
	"time"
)

// keep is how long samples are held when no open mold needs them.
const keep = 48 * time.Hour

// Forget gives up samples that no open mold can need any more. Call it now and then; it never changes
// what the shop tells.
func (s *Shop) Forget() {
	from := s.keepFrom(s.heard)
	for _, p := range s.places {
		p.cut(from)
	}
}

// keepFrom is the instant from which samples are needed by what is told after newest.
func (s *Shop) keepFrom(newest int64) int64 {
	from := newest - keep.Milliseconds()
	for _, m := range s.molds {
		if m.open() || m.end > newest {
			from = min(from, m.begun()-2*m.gap())
		}
	}
	return from
}

// Span is a stretch of time, To left out.
type Span struct{ From, To time.Time }

// learnFor is how long a finished batch goes on to teach about its material.
const learnFor = 365 * 24 * time.Hour

// Needs returns, in order, the stretches of the record that must be folded so that a shop with these marks
// tells the same as one that heard everything up to last. The marks must have been folded already.
func (s *Shop) Needs(last time.Time) []Span {
	s.newest = max(s.newest, last.UnixMilli())
	from := min(s.keepFrom(s.newest), (s.newest/1000/daySeconds-windowDays)*daySeconds*1000)
	spans := []Span{{instant(from), last.Add(time.Millisecond)}}
	var told []*mold
	for _, m := range s.molds {
		if m.shown(s.newest) {
			told = append(told, m)
		}
	}
	for _, m := range s.molds {
		from, to := m.begun()-2*m.gap(), min(m.reach(), last.UnixMilli())+1
		if from < to && (slices.Contains(told, m) || s.teaches(m, told)) {
			spans = append(spans, Span{instant(from), instant(to)})
		}
	}
	return merged(spans)
}

// teaches reports whether what is poured now, or what is told of, rests on what was found of a mold.
func (s *Shop) teaches(m *mold, told []*mold) bool {
	year := learnFor.Milliseconds()
	return slices.ContainsFunc(m.findings, func(f *finding) bool {
		return s.newest-f.at <= year || slices.ContainsFunc(told, func(t *mold) bool {
			return f.at >= t.begun()-year && (t.open() || f.at < t.end)
		})
	})
}

// merged puts spans in order and joins those that touch.
func merged(spans []Span) []Span {
	slices.SortFunc(spans, func(a, b Span) int { return a.From.Compare(b.From) })
	out := spans[:1]
	for _, s := range spans[1:] {
		if l := &out[len(out)-1]; !s.From.After(l.To) {
			if s.To.After(l.To) {
				l.To = s.To
			}
		} else {
			out = append(out, s)
		}
	}
	return out
}
