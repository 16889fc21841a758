package model

import (
	"fmt"
	"math"
	"slices"

	"pourward/model/dry"
	"pourward/model/forecast"
)

// coat tells of a coat or release agent.
func (t *teller) coat(m *mold, st *step) Projection {
	f := st.coat
	p := Projection{Share: f.share(), RoomTime: st.of.Coat.Ref, Why: f.remarks()}
	if f.crossed[late] != 0 && !t.broken(st.mark.At.UnixMilli(), f.crossed[late]) {
		p.Band = band(f.crossed)
		p.Standing = Ready
		return p
	}
	p.Standing = CannotSay
	if t.broken(st.mark.At.UnixMilli(), 0) {
		p.Why = append(p.Why, brokenWhy)
		return p
	}
	if why := t.silent(m); why != "" {
		p.Why = append(p.Why, why)
		return p
	}
	ends, why := t.projectCoat(m, f)
	if why != "" {
		p.Why = append(p.Why, why)
		return p
	}
	p.Band = band(ends)
	p.Standing = Running
	if ends[early] <= t.now {
		p.Standing = Maybe
	}
	return p
}

// share is how far the coat has likely come.
func (f *coatFold) share() float64 { return f.coat[likely].Share(f.done[likely]) }

// remarks are what happened that a maker should know of.
func (f *coatFold) remarks() []string {
	why := gapWords(f.gap)
	if f.held > 0 {
		why = append(why, fmt.Sprintf("the air held it up for %s: not counted as drying", SpanText(f.held)))
	}
	return why
}

// coatHorizon is how far ahead a coat is told, hours: one that is not dry in a day wants other air.
const coatHorizon = 24

// coatPaths is how many of the paths a coat is run along.
const coatPaths = 40

// projectCoat tells when a coat reaches its places of the band; why says what forbids it. The places
// that come of the coat itself are run along the mean of all paths, and what the paths differ by widens them.
func (t *teller) projectCoat(m *mold, f *coatFold) (ends [quantiles]int64, why string) {
	sky := t.sky(m)
	if sky.air == nil || sky.air.paths == nil {
		return ends, "nothing is known of the air to come"
	}
	skip := sky.air.skip(f.walk.front)
	mean := sky.along(-1, skip)
	var own [quantiles]float64
	for place := range own {
		hours, ok := dries(f.coat[place], f.done[place], mean)
		if !ok {
			return ends, held(f.coat[place], mean)
		}
		own[place] = hours
	}
	low, high := sky.scatter(f.coat[likely], f.done[likely], own[likely], skip)
	from := max(sky.air.from, f.walk.front)
	begun := float64(from-f.walk.from) / 3600e3
	hours := [quantiles]float64{
		early:  widened(begun, own[likely], own[early], low),
		likely: own[likely],
		late:   widened(begun, own[likely], own[late], high),
	}
	for place, h := range hours {
		ends[place] = f.crossed[place]
		if ends[place] == 0 {
			ends[place] = from + int64(math.Ceil(h*3600e3))
		}
	}
	inOrder(&ends)
	return ends, ""
}

// widened puts two independent reasons to be off the likely time together: the logarithms of what they
// do to the whole time since the coat went on add as squares.
func widened(begun, likely, own, paths float64) float64 {
	whole := begun + likely
	if whole <= 0 {
		return likely
	}
	a, b := math.Log((begun+own)/whole), math.Log((begun+paths)/whole)
	by := math.Copysign(math.Hypot(a, b), a+b)
	return max(0, whole*math.Exp(by)-begun)
}

// held says what keeps a coat from drying along a course of air.
func held(c dry.Coat, course []dry.Air) string {
	for _, a := range course {
		if hold := c.Gates(a).Hold; hold != dry.NoReason {
			return hold.String()
		}
	}
	return "not dry within a day in air like this"
}

// dries returns after how many hours a coat is dry along a course of hourly air.
func dries(c dry.Coat, done dry.Progress, course []dry.Air) (hours float64, ok bool) {
	for k := 1; k < len(course); k++ {
		next := c.Advance(done, course[k-1], course[k], 3600)
		if next.Done() {
			return float64(k-1) + share(within(c, done, course[k-1], course[k])), true
		}
		done = next
	}
	return 0, false
}

// within finds the share of an hour after which a coat that dries in that hour is dry.
func within(c dry.Coat, done dry.Progress, from, to dry.Air) float64 {
	if done.Done() {
		return 0
	}
	low, high := 0.0, 1.0
	for high-low > 1.0/256 {
		mid := (low + high) / 2
		if c.Advance(done, from, airBetween(from, to, mid), 3600*mid).Done() {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// airBetween is the air a share of the way from one to another.
func airBetween(from, to dry.Air, share float64) dry.Air {
	return dry.Air{
		AirC:     from.AirC + (to.AirC-from.AirC)*share,
		SurfaceC: from.SurfaceC + (to.SurfaceC-from.SurfaceC)*share,
		Humidity: from.Humidity + (to.Humidity-from.Humidity)*share,
	}
}

// sky is what a coat may meet: the air of its place, and its surface where a probe sits on the pattern.
type sky struct{ air, surf *ahead }

func (t *teller) sky(m *mold) sky {
	s := sky{air: t.sight(m.air)}
	if m.surf != nil && m.surf.fresh(t.now) {
		s.surf = t.sight(m.surf)
	}
	return s
}

// along is the air an hour apart from skip hours on, on path i, or on the mean of all paths for -1. The
// moisture is held, so the humidity rises as the air cools.
func (s sky) along(i int, skip float64) []dry.Air {
	out := make([]dry.Air, coatHorizon+1)
	for k := range out {
		hour := skip + float64(k)
		c := s.air.at(i, hour)
		out[k] = dry.Air{AirC: c, SurfaceC: math.NaN(), Humidity: s.air.hum(c)}
		if s.surf != nil && s.surf.paths != nil {
			out[k].SurfaceC = s.surf.at(i, hour)
		}
	}
	return out
}

// scatter is where one in ten of the paths is sooner, and one in ten later, than likely, in hours.
func (s sky) scatter(c dry.Coat, done dry.Progress, likely, skip float64) (low, high float64) {
	times := make([]float64, coatPaths)
	for n := range times {
		h, ok := dries(c, done, s.along(n*pathCount/coatPaths, skip))
		if !ok {
			h = coatHorizon
		}
		times[n] = h
	}
	slices.Sort(times)
	mid := forecast.Quantile(times, 0.5)
	return likely + forecast.Quantile(times, 0.1) - mid, likely + forecast.Quantile(times, 0.9) - mid
}
