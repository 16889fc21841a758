package forecast

import (
	"math"
	"time"
)

// Options set up a Forecaster.
type Options struct {
	// Zone is the shop's time zone: people and heaters follow the local clock. Nil means UTC.
	Zone *time.Location
	// Shadows are the cures that calibrate the bands, shortest first, at most three; 20 and 48 reference hours
	// serve most materials. Without any the bands are given as they are.
	Shadows []Cure
}

// Forecaster learns how one place warms and cools, within about 200 kB. It is not safe for concurrent use; see Clone
// for a snapshot.
type Forecaster struct {
	options Options
	bins    binner
	past    history
	shape   shape
	skill   skill
	errors  hindcasts
	watch   watch
	stated  *statement
	lastC   float64 // temperature at the end of the last closed bin

	shadows      [maxShadows]shadow
	shadowCount  int
	unknownHours int     // hours without a value since the last known one
	lastHourC    float64 // the last known hourly mean
}

// New returns a forecaster that knows nothing yet.
func New(o Options) *Forecaster {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	f := &Forecaster{options: o}
	f.past.zone = o.Zone
	for _, c := range o.Shadows[:min(len(o.Shadows), maxShadows)] {
		f.shadows[f.shadowCount] = shadow{need: c.NeedHours, rate: newRateTable(c.Rate), cal: NewCalibrator()}
		f.shadowCount++
	}
	return f
}

// Observe takes one good reading in degC. Readings must come in order of time; one that does not, or that is
// not a number, is ignored. After a silence longer than the record the place counts as new.
func (f *Forecaster) Observe(at time.Time, tempC float64) {
	s := sample{unix(at), tempC}
	if math.IsNaN(tempC) || math.IsInf(tempC, 0) {
		return
	}
	if f.bins.rawCount > 0 {
		gap := s.T - f.bins.raw[2].T
		if gap <= 0 {
			return
		}
		if gap > historyHours*hourSeconds {
			f.startOver()
		}
	}
	f.bins.add(s, f.closeBin)
}

// Clone is a snapshot that shares nothing with its original.
func (f *Forecaster) Clone() *Forecaster {
	c := *f
	if f.stated != nil {
		s := *f.stated
		c.stated = &s
	}
	return &c
}

// startOver forgets the place but not what the maker stated, nor how far its bands could be trusted.
func (f *Forecaster) startOver() {
	fresh := New(f.options)
	for i := range f.shadowCount {
		fresh.shadows[i].cal = f.shadows[i].cal
	}
	if f.stated != nil {
		fresh.StateSchedule(&f.stated.schedule)
	}
	fresh.watch.stated = f.watch.stated
	fresh.watch.off = f.watch.off && f.watch.stated
	*f = *fresh
}

func (f *Forecaster) closeBin(b binMean) {
	f.lastC = b.EndC
	ended := f.past.addBin(b)
	f.watch.tick(&f.past)
	if !ended || f.past.hourSpan == 0 {
		return
	}
	f.closeHour()
}

// closeHour learns from the hour that just ended and, every third hour, issues a forecast to be judged later.
func (f *Forecaster) closeHour() {
	hour := f.past.lastHour
	mean := f.past.hour(hour)
	f.skill.verify(hour, mean)
	f.errors.verify(hour, mean)
	if f.stated != nil {
		f.stated.errors.verify(hour, mean)
	}
	f.passShadows(mean)
	f.watch.trials.verify(hour, mean)
	f.shape = learnShape(&f.past)
	if next := hour + 1; next%hindcastEvery == 0 && !math.IsNaN(mean) && !math.IsNaN(f.lastC) {
		f.hindcast(next)
	}
}

// hindcast issues forecasts from the start of an hour, to be judged as the truth comes in. What a maker who turned
// the heating off does to the place teaches nothing about its usual course.
func (f *Forecaster) hindcast(hour int64) {
	o := f.originAt(float64(hour)*hourSeconds, f.lastC)
	s := f.foresee(o)
	f.startShadows(s)
	if f.watch.off {
		var cold curve
		f.unheated(o, &cold)
		f.watch.trials.issue(hour, &cold, &s.usual)
	}
	if f.watch.off && f.watch.stated {
		return
	}
	var all [NumCandidates]curve
	var combined curve
	f.project(o, &all, &combined)
	f.skill.issue(hour, &all)
	f.errors.issue(hour, &combined)
	if f.stated != nil {
		f.stated.learn(&f.past)
		f.stated.errors.issue(hour, &s.usual)
	}
}

func (f *Forecaster) originAt(at, nowC float64) origin {
	level, _, known := f.past.meanAndRange(levelWindowHours)
	if known == 0 {
		level = nowC
	}
	return origin{at: at, nowC: nowC, offsetC: f.offset(at, nowC), levelC: level}
}

func unix(t time.Time) float64 { return float64(t.UnixNano()) / 1e9 }
