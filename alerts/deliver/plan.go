package deliver

import (
	"slices"
	"time"

	"pourward/alerts"
)

// phase is which part of an episode a message tells.
type phase string

const (
	began  phase = "began"
	ended  phase = "ended"
	passed phase = "passed"
)

type ref struct {
	Episode int64 `json:"episode"`
	Phase   phase `json:"phase"`
}

// parcel is a message on its way to a target, and what it tells by the books.
type parcel struct {
	Message Message `json:"message"`
	Refs    []ref   `json:"refs"`
}

// next is what a target must hear of an episode; empty when there is nothing now.
func (e *episode) next(s *share) phase {
	stands := e.ended.IsZero()
	switch {
	case !s.began && stands:
		return began
	case !s.began:
		return passed
	case !stands:
		return ended
	}
	return ""
}

// needless reports whether the next thing is not worth telling any more: it was held back and has ended, or
// its end is no news.
func (e *episode) needless(s *share, p phase) bool {
	switch p {
	case passed:
		return s.held || e.alert.Passing
	case ended:
		return e.alert.Passing
	}
	return false
}

// plan makes up the messages that a target must get now: what quiet hours held back as one, and the rest by
// mold. Where it is quiet, all but what begins critically is held back. What is in a message of which nobody
// knows whether it was taken is left for that.
func (b *book) plan(target string, quiet bool, now time.Time, zone *time.Location) (out []*parcel, c changes) {
	unsure := b.unsureOf(target)
	groups := map[string]*parcel{}
	for _, e := range b.all() {
		s := e.open[target]
		if s == nil || unsure[e.id] {
			continue
		}
		p := e.next(s)
		switch {
		case p == "":
		case e.needless(s, p):
			b.close(e, target, &c)
		case quiet && (p != began || e.alert.Severity != alerts.Critical):
			s.due = time.Now() // it waits from the end of the quiet hours on
			if !s.held {
				s.held = true
				c.put = append(c.put, e)
			}
		default:
			group := e.alert.Labels["mold"]
			if s.held {
				group = string(Summary) + "/" // no name of a mold
			}
			if groups[group] == nil {
				groups[group] = b.parcel(group, s.held, now)
				out = append(out, groups[group])
			}
			groups[group].add(e, p)
		}
	}
	for _, p := range out {
		p.Message.finish(target, zone)
	}
	slices.SortStableFunc(out, func(x, y *parcel) int { return y.Message.rank() - x.Message.rank() })
	return out, c
}

func (b *book) parcel(mold string, held bool, now time.Time) *parcel {
	m := Message{Kind: News, Shop: b.shop, Mold: mold, At: now}
	if held {
		m.Kind, m.Mold = Summary, ""
	}
	return &parcel{Message: m}
}

// rank puts what is urgent first.
func (m *Message) rank() int {
	if m.urgent() {
		return 1
	}
	return 0
}

func (p *parcel) add(e *episode, what phase) {
	a := e.alert
	t := Told{
		Name: a.Name, Severity: a.Severity, Labels: a.Labels, Summary: a.Summary, Description: a.Description,
		WhatToDo: a.WhatToDo, Since: a.Since,
	}
	if until := e.ended; what != began {
		t.Until = &until
	}
	switch what {
	case began:
		p.Message.Began = append(p.Message.Began, t)
	case ended:
		p.Message.Ended = append(p.Message.Ended, t)
	case passed:
		p.Message.Passed = append(p.Message.Passed, t)
	}
	p.Refs = append(p.Refs, ref{e.id, what})
}

// unsureOf are the episodes in messages of which nobody knows whether the target took them.
func (b *book) unsureOf(target string) map[int64]bool {
	out := map[int64]bool{}
	for _, p := range b.unsure[target] {
		for _, r := range p.Refs {
			out[r.Episode] = true
		}
	}
	return out
}

// sent notes that a target took a message.
func (b *book) sent(target string, p *parcel) (c changes) {
	b.forget(target, p)
	for _, r := range p.Refs {
		e := b.episodes[r.Episode]
		if e == nil || e.open[target] == nil {
			continue
		}
		if r.Phase != began {
			b.close(e, target, &c)
			continue
		}
		s := e.open[target]
		s.began, s.held = true, false
		if !e.ended.IsZero() {
			s.due = time.Now()
		}
		c.put = append(c.put, e)
	}
	return c
}

// forget drops a message from those that may have been taken, and reports whether it was one.
func (b *book) forget(target string, p *parcel) bool {
	before := len(b.unsure[target])
	b.unsure[target] = slices.DeleteFunc(b.unsure[target], func(x *parcel) bool { return x.Message.Key == p.Message.Key })
	return len(b.unsure[target]) < before
}
