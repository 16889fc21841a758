package model

import (
	"math"
	"time"

	"pourward/model/cure"
)

// path is one way the temperature may go from an instant on: linear between values step apart, and
// at the last value after them.
type path struct {
	from  int64 // Unix milliseconds
	step  int64 // milliseconds between values
	temps []float64
}

// at returns the temperature at an instant not before from, and the next instant at which the path bends;
// after the last value there is no such instant and it returns math.MaxInt64.
func (p path) at(ms int64) (float64, int64) {
	k := (ms - p.from) / p.step
	if k >= int64(len(p.temps)-1) {
		return p.temps[len(p.temps)-1], math.MaxInt64
	}
	f := float64(ms-p.from-k*p.step) / float64(p.step)
	return p.temps[k] + f*(p.temps[k+1]-p.temps[k]), p.from + (k+1)*p.step
}

// ahead is what is assumed of a place's air from the newest sample on.
type ahead struct {
	from  int64   // the newest sample
	now   float64 // °C there
	spans []span  // recent means, shortest first; the last one is used for anything longer
}

// span is a recent mean and the span it was taken over.
type span struct {
	over time.Duration
	lean
}

// spans over which a place's recent mean is kept ready. What will happen within an hour is judged by
// the last hour, what will happen within a day by the last day.
func meanSpans() []time.Duration {
	return []time.Duration{10 * time.Minute, time.Hour, 6 * time.Hour, 24 * time.Hour}
}

// lookAhead makes the assumption for a track from samples not older than oldest; ok is false when it is
// empty.
func lookAhead(t *track, oldest int64) (ahead, bool) {
	l, ok := t.last()
	if !ok {
		return ahead{}, false
	}
	out := ahead{from: l.at, now: l.temp}
	for _, d := range meanSpans() {
		r, _ := t.recent(d, oldest)
		out.spans = append(out.spans, span{over: d, lean: r})
	}
	return out, true
}

// least spread of what the temperature will do, K: even a steady room is not steadier.
const leastSpreadK = 0.5

// over returns the mean to hold for something that still takes the given time, and how far the
// temperature may stray from it, K.
func (a ahead) over(rest time.Duration) (lean, float64) {
	s := a.spans[len(a.spans)-1]
	for _, c := range a.spans {
		if c.over >= rest {
			s = c
			break
		}
	}
	day := a.spans[len(a.spans)-1]
	return s.lean, max(leastSpreadK, s.sd, day.sd*min(1, rest.Hours()/24))
}

// horizon is how far ahead a time is told at all.
const horizon = 7 * 24 * time.Hour

// finish returns when a cure of the given age reaches need along the path, from the instant ms on. ok is
// false when it does not within the horizon: too cold, or below the floor.
func finish(law cure.Arrhenius, age, need float64, p path, ms int64) (int64, bool) {
	end := ms + horizon.Milliseconds()
	for ms < end {
		t, bend := p.at(ms)
		stop := min(bend, end)
		u, _ := p.at(stop)
		more := law.Age(t, u, float64(stop-ms)/1000)
		if age+more >= need {
			return ms + int64(float64(stop-ms)*(need-age)/more), true
		}
		age, ms = age+more, stop
	}
	return 0, false
}
