package model

import (
	"math"
	"slices"
	"sort"
	"time"

	"pourward/model/air"
	"pourward/model/cure"
	"pourward/model/forecast"
	"pourward/model/heat"
	"pourward/model/material"
)

// pathCount is how many ways the temperature may go that every projection is run along.
const pathCount = 200

// usualLaw is the rate that forecasts are calibrated with.
func usualLaw() cure.Arrhenius {
	return cure.Arrhenius{EaJ: 50e3, RefC: material.Room, FloorC: 0}
}

// ahead is how a place's air may go from its newest sample on. It is made for one outlook; what several
// molds need of it is worked out once.
type ahead struct {
	from    int64   // the newest sample
	now     lean    // of the last minutes
	last    float64 // the newest sample's temperature, °C
	fore    *forecast.Forecaster
	paths   *forecast.Paths
	middle  []float64                    // mean of all paths; nil until asked for
	ages    map[cure.Arrhenius][]float64 // by law: age at every hour of every path, s, row-major
	courses [][]float64                  // every path in steps of leapHours; nil until asked for
	runs    map[*heat.Body]*heat.Ensemble
	vaporPa float64 // held, since a closed shop keeps its moisture; NaN = not known
}

// nowSpan is the span over which the present air is averaged.
const nowSpan = 10 * time.Minute

// lookAhead makes it for a place; nil where nothing was ever measured.
func lookAhead(p *place, oldest int64) *ahead {
	l, ok := p.track.last()
	if !ok {
		return nil
	}
	a := &ahead{from: l.at, last: l.temp, ages: map[cure.Arrhenius][]float64{}, runs: map[*heat.Body]*heat.Ensemble{}}
	a.now, _ = p.track.recent(nowSpan, oldest)
	a.vaporPa = air.VapourPa(a.now.temp, a.now.hum)
	if l.at >= oldest {
		a.fore = p.past.forecaster()
		a.paths = a.fore.Paths(instant(l.at), pathCount)
	}
	return a
}

// row is path i, or for -1 the mean of all paths: °C at every whole hour.
func (a *ahead) row(i int) []float64 {
	if i < 0 {
		return a.mean()
	}
	return a.paths.Row(i)
}

// at is the temperature on path i, or on the mean for -1, at an hour from the newest sample, °C.
func (a *ahead) at(i int, hour float64) float64 {
	row := a.row(i)
	hour = min(hour, float64(len(row)-1))
	k := min(int(hour), len(row)-2)
	return row[k] + (row[k+1]-row[k])*(hour-float64(k))
}

// course is path i in steps of leapHours, the value at the end of each.
func (a *ahead) course(i int) []float64 {
	if a.courses == nil {
		a.courses = make([][]float64, pathCount)
		for i := range a.courses {
			a.courses[i] = make([]float64, int((forecast.Steps-1)/leapHours))
			for k := range a.courses[i] {
				a.courses[i][k] = a.at(i, float64(k+1)*leapHours)
			}
		}
	}
	return a.courses[i]
}

// ensemble is all paths run through a body, once for every mold that has it.
func (a *ahead) ensemble(b *heat.Body) (*heat.Ensemble, error) {
	if e := a.runs[b]; e != nil {
		return e, nil
	}
	a.course(0)
	e, err := heat.NewEnsemble(b, a.last, a.courses, leapHours*3600)
	if err != nil {
		return nil, err
	}
	a.runs[b] = e
	return e, nil
}

// mean is the mean of all paths, °C at every whole hour.
func (a *ahead) mean() []float64 {
	if a.middle == nil {
		a.middle = make([]float64, forecast.Steps)
		for i := range pathCount {
			for k, c := range a.paths.Row(i) {
				a.middle[k] += c / pathCount
			}
		}
	}
	return a.middle
}

// hum is the humidity at a temperature when the air keeps its moisture, ratio.
func (a *ahead) hum(tempC float64) float64 {
	return min(1, a.vaporPa/air.SaturationPa(tempC))
}

// table returns the age at every hour of every path under a law, s.
func (a *ahead) table(law cure.Arrhenius) []float64 {
	if t, ok := a.ages[law]; ok {
		return t
	}
	t := make([]float64, pathCount*forecast.Steps)
	for i := range pathCount {
		row, out := a.paths.Row(i), t[i*forecast.Steps:(i+1)*forecast.Steps]
		for k := 1; k < len(row); k++ {
			out[k] = out[k-1] + law.Age(row[k-1], row[k], 3600)
		}
	}
	a.ages[law] = t
	return t
}

// skip is how many hours after the newest sample something begins; 0 if it began before.
func (a *ahead) skip(begun int64) float64 { return max(0, float64(begun-a.from)/3600e3) }

// finish returns after how many hours from the newest sample an age still needed, s, is reached on path i
// by something that ages from skip hours on; +Inf when it is not within the forecast.
func (a *ahead) finish(law cure.Arrhenius, i int, need, skip float64) float64 {
	if need <= 0 {
		return skip
	}
	ages := a.table(law)[i*forecast.Steps : (i+1)*forecast.Steps]
	row := a.paths.Row(i)
	if k := int(skip); skip > 0 && k < len(row)-1 {
		x := skip - float64(k)
		need += ages[k] + law.Age(row[k], row[k]+(row[k+1]-row[k])*x, 3600*x)
	}
	k := sort.SearchFloat64s(ages, need)
	if k == len(ages) {
		return math.Inf(1)
	}
	return float64(k-1) + inside(law, row[k-1], row[k], 3600, need-ages[k-1], ages[k]-ages[k-1])
}

// meanFinish is finish along the mean of all paths, hours.
func (a *ahead) meanFinish(law cure.Arrhenius, need float64) float64 {
	mean := a.mean()
	for k := 1; k < len(mean); k++ {
		age := law.Age(mean[k-1], mean[k], 3600)
		if age >= need {
			return float64(k-1) + max(0, inside(law, mean[k-1], mean[k], 3600, need, age))
		}
		need -= age
	}
	return math.Inf(1)
}

// nearEnough is how exactly the end of a path is found, s: far closer than paths are known.
const nearEnough = 0.5

// inside finds the share of some seconds, the temperature linear from from to to, after which an age is reached
// that they exceed as a whole, near enough. Ages are monotone and nearly linear, so false position
// settles at once; where a floor bends them, an end that stays counts for half each time (the Illinois rule).
func inside(law cure.Arrhenius, from, to, seconds, need, whole float64) float64 {
	x, lowX, highX, short, over := 0.0, 0.0, 1.0, need, whole-need
	for last := 0; ; {
		x = lowX + (highX-lowX)*short/(short+over)
		off := law.Age(from, from+(to-from)*x, seconds*x) - need
		switch {
		case math.Abs(off) < nearEnough || !(highX-lowX > 1e-12):
			return x
		case off < 0:
			lowX, short = x, -off
			if last < 0 {
				over /= 2
			}
			last = -1
		default:
			highX, over = x, off
			if last > 0 {
				short /= 2
			}
			last = 1
		}
	}
}

// spread returns the standard normal score that path i is run with, so that what is unsure of the
// material is spread over the paths evenly and apart from their order.
func spread(i int) float64 {
	const stride = 123 // coprime to pathCount
	share := (float64(i*stride%pathCount) + 0.5) / pathCount
	return math.Sqrt2 * math.Erfinv(2*share-1)
}

// completions are the hours after which each path reaches its need, in ascending order. need gives what is
// still needed at a standard normal score, s; ageing starts skip hours from now.
func (a *ahead) completions(law cure.Arrhenius, skip float64, need func(z float64) float64) []float64 {
	out := make([]float64, pathCount)
	for i := range out {
		out[i] = a.finish(law, i, need(spread(i)), skip)
	}
	slices.Sort(out)
	return out
}

// heatedOff reports whether the forecaster sees the heating gone off, and is to be believed: nobody said so,
// and it has been right before.
func (a *ahead) heatedOff() bool {
	if a == nil || a.fore == nil {
		return false
	}
	h := a.fore.Heating()
	return h.Off && !h.Stated && h.OffShare > 0
}

// skill is how well the place has been foreseen.
func (a *ahead) skill() ForecastSkill {
	if a == nil || a.fore == nil {
		return ForecastSkill{}
	}
	s := ForecastSkill{Days: a.fore.Days()}
	for _, h := range skillLeads() {
		if k := a.fore.ErrorK(h); !math.IsNaN(k) {
			s.Errors = append(s.Errors, LeadError{h, k})
		}
	}
	return s
}

// reach is the fan of all paths, hour by hour.
func (a *ahead) reach() []Reach {
	if a == nil {
		return nil
	}
	return ReachOf(a.paths)
}

// ReachOf is the fan of an ensemble, hour by hour; nil where there is none.
func ReachOf(p *forecast.Paths) []Reach {
	if p == nil {
		return nil
	}
	out := make([]Reach, forecast.Steps)
	column := make([]float64, p.N)
	for k := range out {
		for i := range column {
			column[i] = p.Row(i)[k]
		}
		slices.Sort(column)
		out[k] = Reach{
			At:   p.At.Add(time.Duration(k) * time.Hour),
			LowC: forecast.Quantile(column, 0.1), LikelyC: forecast.Quantile(column, 0.5), HighC: forecast.Quantile(column, 0.9),
		}
	}
	return out
}
