package forecast

import (
	"math"
	"math/rand/v2"
)

// foresight is what is expected from one origin: the usual course, and the course without heating where the
// heating seems to be off.
type foresight struct {
	origin      float64 // Unix seconds
	usual, cold curve
	credit      float64 // share of paths that stay cold; as many resume
}

func (f *Forecaster) foresee(o origin) (s foresight) {
	s.origin = o.at
	if f.stated != nil {
		f.stated.forecast(o.at, o.nowC, f.past.zone, &s.usual)
		s.usual.lean(o.latestK)
	} else {
		var all [NumCandidates]curve
		f.project(o, &all, &s.usual)
	}
	if s.credit = f.watch.credit(); s.credit > 0 {
		f.unheated(o, &s.cold)
		s.cold.lean(o.latestK)
	}
	return s
}

// draw scatters whole error paths around the forecast. Their mean is taken out first: three weeks of drift one
// way say little about the next days. The younger the record, the wider the draw and the more of it comes from
// the prior.
func (f *Forecaster) draw(s foresight, staleHours float64, p *Paths) {
	store := f.store()
	known, days, bias := store.known(), store.days(), store.mean()
	inflate := 1 + 0.5/max(1, days/3)
	priors := p.N
	if len(known) > 0 {
		priors = int(math.Ceil(float64(p.N) / (1 + days/priorDays)))
	}
	random := rand.New(rand.NewPCG(uint64(f.past.lastHour), uint64(store.kept)))
	prior := f.learnPrior(s.origin)
	order := random.Perm(len(known))
	var center [Steps]float64
	instants(&s.usual, staleHours, center[:])
	var e curve
	for i := range p.N {
		if i < priors {
			prior.walk(random, &e)
		} else {
			known[order[i%len(order)]].unfold(&bias, inflate, &e)
		}
		if s.credit > 0 {
			branch := s.branch(random)
			instants(&branch, staleHours, center[:])
		}
		row := p.Row(i)
		instants(&e, staleHours, row)
		for k := range row {
			row[k] = center[k] - row[k]
		}
	}
}

// branch draws one course of a place whose heating may be off: it stays off, comes back, or was never off.
func (s *foresight) branch(random *rand.Rand) curve {
	switch x := random.Float64(); {
	case x < s.credit:
		return s.cold
	case x < 2*s.credit:
		return resumed(&s.usual, &s.cold, random)
	}
	return s.usual
}

// store is where the error paths of the forecast now in force are kept.
func (f *Forecaster) store() *hindcasts {
	if f.stated != nil {
		return &f.stated.errors
	}
	return &f.errors
}
