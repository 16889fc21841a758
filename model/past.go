package model

import (
	"sort"
	"time"

	"pourward/model/forecast"
)

// past is what a place's forecaster learns from: four weeks of temperatures, one every few minutes. What
// the forecaster knows follows from these alone, so a shop folded again from the record forecasts the
// same to the last bit.
type past struct {
	zone  *time.Location
	plan  *forecast.Schedule // when the place is heated, as the maker says; nil = not told
	s     []thinned
	fore  *forecast.Forecaster // nil until asked for; what it knows is s[:fed]
	fed   int
	begun int64 // UTC day its window begins, in days since 1970
}

// thinned is the first sample of a slot.
type thinned struct {
	sec  int64 // Unix seconds
	temp float32
}

// The forecaster's window.
const (
	slotSeconds = 150 // four samples in ten minutes: enough to outvote a bad one
	windowDays  = 28
	daySeconds  = 86400
)

func (t thinned) slot() int64 { return t.sec / slotSeconds }

// add takes a trusted sample. Of a slot the earliest counts, whenever it comes.
func (p *past) add(x sample) {
	t := thinned{sec: x.at / 1000, temp: float32(x.temp)}
	n := len(p.s)
	if n == 0 || t.slot() > p.s[n-1].slot() {
		p.s = append(p.s, t)
		return
	}
	i := sort.Search(n, func(i int) bool { return p.s[i].slot() >= t.slot() })
	switch {
	case p.s[i].slot() != t.slot():
		if i == 0 && t.sec < p.windowFrom() {
			return
		}
		p.s = append(p.s, thinned{})
		copy(p.s[i+1:], p.s[i:])
	case p.s[i].sec <= t.sec:
		return
	}
	p.s[i] = t
	if i < p.fed {
		p.fore = nil // it learned from something else
	}
}

// remove takes the sample of an instant out; the next one of its slot, if the track has one, counts instead.
func (p *past) remove(at int64, t *track) {
	gone := thinned{sec: at / 1000}
	i := sort.Search(len(p.s), func(i int) bool { return p.s[i].slot() >= gone.slot() })
	if i == len(p.s) || p.s[i].sec != gone.sec {
		return
	}
	p.s = append(p.s[:i], p.s[i+1:]...)
	if i < p.fed {
		p.fore = nil
	}
	for pos := t.after(gone.slot()*slotSeconds*1000 - 1); pos < t.end(); pos++ {
		x := *t.get(pos)
		if (thinned{sec: x.at / 1000}).slot() != gone.slot() {
			return
		}
		if x.at != at {
			p.add(x)
			return
		}
	}
}

// windowFrom is the beginning of the window of the newest sample, Unix seconds.
func (p *past) windowFrom() int64 {
	if len(p.s) == 0 {
		return 0
	}
	return (p.s[len(p.s)-1].sec/daySeconds - windowDays) * daySeconds
}

// forecaster returns the forecaster, fed with everything in the window; nil when there is nothing. Each
// UTC day it begins anew, with the oldest day left out.
func (p *past) forecaster() *forecast.Forecaster {
	if len(p.s) == 0 {
		return nil
	}
	from := p.windowFrom()
	if p.fore == nil || p.begun != from {
		cut := sort.Search(len(p.s), func(i int) bool { return p.s[i].sec >= from })
		p.s = append(p.s[:0], p.s[cut:]...)
		p.fore, p.fed, p.begun = newForecaster(p.zone, p.plan), 0, from
	}
	for ; p.fed < len(p.s); p.fed++ {
		p.fore.Observe(time.Unix(p.s[p.fed].sec, 0), float64(p.s[p.fed].temp))
	}
	return p.fore
}

// newForecaster calibrates itself on two cures of the usual activation energy that nobody poured.
func newForecaster(zone *time.Location, plan *forecast.Schedule) *forecast.Forecaster {
	rate := usualLaw().Rate
	f := forecast.New(forecast.Options{Zone: zone, Shadows: []forecast.Cure{
		{NeedHours: 20, Rate: rate}, {NeedHours: 48, Rate: rate},
	}})
	f.StateSchedule(plan)
	return f
}
