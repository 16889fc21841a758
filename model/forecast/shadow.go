package forecast

import (
	"math"
	"time"
)

const (
	maxShadows     = 3
	openShadows    = 72 // nine days of three-hourly starts
	shadowPaths    = 100
	shadowMembers  = 20 // quantiles kept of an ensemble for its score
	shadowHalfLife = 14 // days, of the running scores
	pitBins        = 10
)

// shadow is a cure that nobody poured: one starts every three hours, and its end teaches the calibrator what the
// bands given out at its start were worth. Real pours are too few to learn from.
type shadow struct {
	need float64
	rate rateTable
	cal  Calibrator
	open [openShadows]openShadow
	next int // slot of the next start

	scored  int
	pit     [pitBins]int
	running struct{ weight, held, width, interval, crps, hours float64 }
}

type openShadow struct {
	live                bool
	elapsed, age        float64 // hours since the start, reference hours cured
	band                Band
	earlyDone, lateDone bool // the calibrator knows about this end
	members             [shadowMembers]float32
}

// start gives out a band for a cure that begins now.
func (s *shadow) start(p *Paths) {
	times := p.Completions(Cure{NeedHours: s.need, Rate: s.rate.at}, 0, nil)
	o := &s.open[s.next%openShadows]
	s.giveUp(o)
	*o = openShadow{live: true, band: s.cal.Band(times)}
	for i := range o.members {
		o.members[i] = float32(min(Quantile(times, (float64(i)+0.5)/shadowMembers), maxCompletionHours))
	}
	s.next++
}

// giveUp closes a shadow that did not end in time: all that is known is that it was not early.
func (s *shadow) giveUp(o *openShadow) {
	if o.live && !o.earlyDone {
		s.cal.early(false)
	}
	o.live = false
}

// pass lets an hour go by at a temperature.
func (s *shadow) pass(tempC float64) {
	gain := s.rate.at(tempC)
	for i := range s.open {
		o := &s.open[i]
		if !o.live {
			continue
		}
		if o.age+gain >= s.need {
			s.end(o, o.elapsed+(s.need-o.age)/gain)
			continue
		}
		o.age += gain
		o.elapsed++
		s.overdue(o)
	}
}

// overdue tells the calibrator as soon as an end is settled: a cure still going when its latest time has passed
// is late, whenever it may complete.
func (s *shadow) overdue(o *openShadow) {
	if !o.earlyDone && o.elapsed >= o.band.Earliest {
		s.cal.early(false)
		o.earlyDone = true
	}
	if !o.lateDone && o.elapsed > o.band.Latest {
		s.cal.late(true)
		o.lateDone = true
	}
}

func (s *shadow) end(o *openShadow, hours float64) {
	if !o.earlyDone {
		s.cal.early(hours < o.band.Earliest)
	}
	if !o.lateDone {
		s.cal.late(hours > o.band.Latest)
	}
	o.live = false
	s.score(o, hours)
}

func (s *shadow) score(o *openShadow, hours float64) {
	members := make([]float64, shadowMembers)
	below := 0
	for i, m := range o.members {
		members[i] = float64(m)
		if members[i] < hours {
			below++
		}
	}
	s.scored++
	s.pit[min(below*pitBins/shadowMembers, pitBins-1)]++
	latest := min(o.band.Latest, maxCompletionHours)
	r, keep := &s.running, math.Exp2(-1.0/(hindcastsPerDay*shadowHalfLife))
	held := 0.0
	if o.band.Holds(hours) {
		held = 1
	}
	r.weight = r.weight*keep + 1
	r.held = r.held*keep + held
	r.width = r.width*keep + latest - o.band.Earliest
	r.interval = r.interval*keep + IntervalScore(2*tailShare, o.band.Earliest, latest, hours)
	r.crps = r.crps*keep + CRPSEnsemble(hours, members)
	r.hours = r.hours*keep + hours
}

// void drops every open shadow: what the place did meanwhile is not known.
func (s *shadow) void() {
	for i := range s.open {
		s.open[i].live = false
	}
}

// typicalHours is how long this shadow takes here of late.
func (s *shadow) typicalHours() float64 {
	if s.running.weight == 0 {
		return s.need
	}
	return s.running.hours / s.running.weight
}

// startShadows begins one of each, on the forecast just issued.
func (f *Forecaster) startShadows(s foresight) {
	if f.shadowCount == 0 {
		return
	}
	p := Paths{At: time.Unix(int64(s.origin), 0), N: shadowPaths, TempC: make([]float64, shadowPaths*Steps)}
	f.draw(s, 0, &p)
	for i := range f.shadowCount {
		f.shadows[i].start(&p)
	}
}

// passShadows lets an hour go by for every shadow. Short gaps are bridged by a line; after a longer one the open
// shadows are void.
func (f *Forecaster) passShadows(tempC float64) {
	if math.IsNaN(tempC) {
		f.unknownHours++
		return
	}
	n := f.unknownHours
	for i := range f.shadowCount {
		s := &f.shadows[i]
		if n > maxErrorGap {
			s.void()
		}
		for k := 1; k <= n && n <= maxErrorGap; k++ {
			s.pass(f.lastHourC + (tempC-f.lastHourC)*float64(k)/float64(n+1))
		}
		s.pass(tempC)
	}
	f.unknownHours, f.lastHourC = 0, tempC
}
