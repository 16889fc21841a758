package forecast

import (
	"math"
	"time"
)

// agingEvery is how many pours apart the cures are that are watched while they advance; five meets all times of day.
const agingEvery = 5

// agingCure is a cure to look at again at some hour.
type agingCure struct {
	at    int64
	tally int // index into replay.cures
	stage int
	told  outcome
}

// watch notes a cure to come back to as it advances.
func (r *replay) watch(tally int, told outcome) {
	c := &r.cures[tally]
	if c.settled%agingEvery != 0 {
		return
	}
	for stage := range c.aging {
		after := int64(math.Round(c.aging[stage].Done * told.actual))
		r.later = append(r.later, agingCure{told.hour + after, tally, stage, told})
	}
}

// comeBack tells anew when the cures due for it will be done, from the cure age they really have.
func (r *replay) comeBack(origin time.Time) {
	asked := false
	kept := r.later[:0]
	for _, a := range r.later {
		switch {
		case a.at > r.nextHour:
			kept = append(kept, a)
		case a.at == r.nextHour:
			if !asked {
				asked = r.forecaster.PathsInto(&r.paths, origin, r.options.Paths)
			}
			r.tellAgain(a)
		}
	}
	r.later = kept
}

func (r *replay) tellAgain(a agingCure) {
	c := &r.cures[a.tally]
	cure := Cure{NeedHours: c.need, Rate: r.options.Rate}
	gone := a.at - a.told.hour
	done := r.truth.aged(a.told.hour, r.options.Rate, gone)
	r.times = r.paths.Completions(cure, done, r.times)
	band := r.forecaster.Band(r.times)
	left := a.told.actual - float64(gone)
	s := &c.aging[a.stage]
	s.errs = append(s.errs, math.Abs(band.Likely-left)/a.told.actual)
	if band.Holds(left) {
		s.held++
	}
}
