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
	from := s.keepFrom()
	for _, p := range s.places {
		p.cut(from)
	}
}

func (s *Shop) keepFrom() int64 {
	from := s.newest - keep.Milliseconds()
	for _, m := range s.molds {
		if m.open() || m.end > s.newest {
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
	from := min(s.keepFrom(), (s.newest/1000/daySeconds-windowDays)*daySeconds*1000)
	spans := []Span{{instant(from), last.Add(time.Millisecond)}}
	for _, m := range s.molds {
		if m.isPatch() {
			spans = append(spans, s.patchNeeds(m, last)...)
			continue
		}
		old := !m.open() && !m.shown(s.newest)
		if old && (len(m.findings) == 0 || s.newest-m.end > learnFor.Milliseconds()) {
			continue
		}
		end := m.end + m.gap() + time.Hour.Milliseconds() // a sample after the end bounds it
		spans = append(spans, Span{instant(m.begun() - 2*m.gap()), instant(end)})
	}
	return merged(spans, last)
}

// boundBy is how long after its end a patch is followed for the sample that bounds it: a probe that is silent
// for longer takes what it says next from nowhere near.
const boundBy = 24 * time.Hour

// patchNeeds is the stretch that a patch must be folded from, while it is told of.
func (s *Shop) patchNeeds(m *mold, last time.Time) []Span {
	if s.newest > m.keptUntil() {
		return nil
	}
	end := min(m.end+boundBy.Milliseconds(), last.UnixMilli()+1)
	from := m.begun() - 2*m.gap()
	return []Span{{instant(from), instant(max(end, from))}}
}

// merged puts spans in order and joins those that touch; an open mold's has no end yet.
func merged(spans []Span, last time.Time) []Span {
	for i := range spans {
		if spans[i].To.Before(spans[i].From) {
			spans[i].To = last.Add(time.Millisecond)
		}
	}
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
