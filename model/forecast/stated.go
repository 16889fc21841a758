package forecast

import (
	"math"
	"time"
)

// Heating is what the maker says about the heating.
type Heating int

// What can be said.
const (
	HeatingUnknown Heating = iota // nothing: the forecaster watches for itself
	HeatingOn                     // on as usual, whatever the forecaster thinks
	HeatingOff                    // off, and staying off until said otherwise
)

// mutedTicks is how long a stated "on" silences the watch: half a day to warm up again.
const mutedTicks = 12 * binsPerHour

// StateHeating takes the maker's word, which overrides what the forecaster noticed. The forecasts open at that
// moment could not know, so they teach nothing.
func (f *Forecaster) StateHeating(h Heating) {
	w := &f.watch
	f.errors.forget()
	f.skill.forget()
	switch h {
	case HeatingOff:
		w.stated = true
		if !w.off {
			w.goOff(&f.past)
		}
	case HeatingOn:
		w.off, w.stated = false, false
		w.mutedUntil = f.past.lastBin + mutedTicks
	default:
		w.off, w.stated = w.off && !w.stated, false
	}
}

// HeatingState is what the forecaster makes of the heating.
type HeatingState struct {
	Off    bool      // it seems, or was said, to be off
	Stated bool      // the maker said so
	Since  time.Time // when the fall began, while Off
	// OffShare of the paths see it stay off, and as many see it resumed, 0..1. Zero while Off means that alarms
	// have been wrong here too often to act on.
	OffShare float64
	TauHours float64 // time constant of the fall
	RestC    float64 // where the fall would end, degC
	Fitted   bool    // both come from a fall seen here; assumed otherwise
}

// Heating reports what the forecaster makes of the heating.
func (f *Forecaster) Heating() HeatingState {
	w := &f.watch
	now, _ := f.bins.now()
	fall := w.course(&f.past, now.TempC)
	s := HeatingState{Off: w.off, Stated: w.stated, OffShare: w.credit(), TauHours: fall.tauHours, RestC: fall.restC, Fitted: w.fitted}
	if w.off {
		s.Since = time.Unix(w.since*binSeconds, 0).UTC()
	}
	return s
}

// Schedule is a heating schedule as the maker states it: on the given days the place is heated from one local time
// of day to another.
type Schedule struct {
	Days     [7]bool // by time.Weekday
	From, To time.Duration
	HeatedC  float64
}

// Heats reports whether the schedule heats at a local time.
func (s Schedule) Heats(local time.Time) bool {
	hour, minute, second := local.Clock()
	day := time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute + time.Duration(second)*time.Second
	return s.Days[local.Weekday()] && s.From <= day && day < s.To
}

// statement is a stated schedule, what the place does under it, and how well that was foreseen.
type statement struct {
	schedule   Schedule
	warm, cool course
	errors     hindcasts
}

// StateSchedule takes the maker's schedule, which from then on is the forecast; nil withdraws it. The past three
// weeks are forecast anew by it: if they followed the schedule their errors are its spread, if not it is news and
// starts with the spread of an unknown place.
func (f *Forecaster) StateSchedule(s *Schedule) {
	if s == nil {
		f.stated = nil
		return
	}
	f.stated = &statement{schedule: *s}
	f.stated.learn(&f.past)
	f.rehearse(f.stated)
	const lead = 12
	if f.stated.errors.meanAbs(lead) > newsFactor*f.errors.meanAbs(lead) {
		f.stated.errors = hindcasts{}
	}
}

const (
	newsFactor     = 1.5 // a schedule that would have erred this much more than the usual forecast is news
	riseTau        = 1   // hours, until learned
	learnHours     = 14 * 24
	learnHalfLife  = 72  // hours: the weather an unheated shop falls towards changes
	unfittedDropK  = 10  // below the heated temperature, where the place would end unheated, before anything is known
	believedTau    = 4   // hours: a learned rise slower than this is not the heating's
	believedAsideK = 1.5 // nor one that ends so far from the stated temperature
)

// learn fits how the place warms and cools from the hours that followed the schedule.
func (s *statement) learn(h *history) {
	s.warm, s.cool = course{riseTau, s.schedule.HeatedC}, course{unfittedTau, s.schedule.HeatedC - unfittedDropK}
	if low := h.coldest(hoursPerWeek); low < s.schedule.HeatedC {
		s.cool.restC = low - unfittedBelowK
	}
	var heated, unheated fallFit
	for age := min(learnHours, h.hourSpan) - 1; age > 0; age-- {
		hour := h.lastHour - age
		from, to := h.hour(hour), h.hour(hour+1)
		if math.IsNaN(from) || math.IsNaN(to) {
			continue
		}
		weight := math.Exp2(-float64(age) / learnHalfLife)
		before, after := s.heatsHour(h, hour), s.heatsHour(h, hour+1)
		switch {
		case before && after:
			heated.add(weight, from-s.schedule.HeatedC, to-s.schedule.HeatedC)
		case !before && !after:
			unheated.add(weight, from-s.schedule.HeatedC, to-s.schedule.HeatedC)
		}
	}
	if tau, rest, ok := heated.solve(1); ok && tau < believedTau && math.Abs(rest) < believedAsideK {
		s.warm = course{tau, s.schedule.HeatedC + rest}
	}
	if tau, rest, ok := unheated.solve(1); ok && rest < 0 {
		s.cool = course{tau, s.schedule.HeatedC + rest}
	}
}

func (s *statement) heatsHour(h *history, hour int64) bool {
	return s.schedule.Heats(time.Unix(hour*hourSeconds+hourSeconds/2, 0).In(h.zone))
}

// forecast runs the schedule on from a temperature, in ten-minute steps.
func (s *statement) forecast(at, nowC float64, zone *time.Location, out *curve) {
	out[0] = nowC
	tempC := nowC
	const step = 1.0 / binsPerHour
	for h := 1; h <= leads; h++ {
		sum := 0.0
		for k := range binsPerHour {
			seconds := at + (float64(h-1)+(float64(k)+0.5)*step)*hourSeconds
			c := s.cool
			if s.schedule.Heats(time.Unix(int64(seconds), 0).In(zone)) {
				c = s.warm
			}
			next := c.after(tempC, step)
			sum += (tempC + next) / 2
			tempC = next
		}
		out[h] = sum / binsPerHour
	}
}

// rehearse forecasts the past by the schedule and keeps the errors.
func (f *Forecaster) rehearse(s *statement) {
	h := &f.past
	var c curve
	for back := int64(errorPaths*hindcastEvery + leads); back >= leads; back -= hindcastEvery {
		origin := h.lastHour + 1 - back
		nowC := h.hour(origin - 1)
		if math.IsNaN(nowC) {
			continue
		}
		s.forecast(float64(origin)*hourSeconds, nowC, h.zone, &c)
		var p errorPath
		for i := range p {
			p[i] = float32(c[i+1] - h.hour(origin+int64(i)))
		}
		s.errors.keep(p)
	}
}
