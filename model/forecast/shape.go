package forecast

import "math"

const (
	shapeHalfLifeHours = 96   // yesterday counts more than last week
	shapePrior         = 0.35 // days' worth of "no daily shape" mixed in
	shapeWindow        = 21 * 24
)

// shape is a place's own day: the mean departure from the level by hour of the local clock, and the mean
// temperature by hour. Both are zero-weighted until a day is on record.
type shape struct {
	departure byClock // K, mean zero, shrunk towards none, smoothed 1-2-1
	profile   byClock // degC
	known     bool
}

// learnShape weighs the past by age with a half-life of four days. The level under each hour is the mean of
// the 24 hours around it, the classical centered moving average of seasonal decomposition.
func learnShape(h *history) shape {
	var s shape
	if h.hourSpan < 24 {
		return s
	}
	var weight, sum, profileWeight, profile byClock
	var levels levels
	levels.fill(h)
	h.span(shapeWindow, func(age int64, at slot, tempC float64) {
		w := math.Exp2(-float64(age) / shapeHalfLifeHours)
		profileWeight.add(at, w)
		profile.add(at, w*tempC)
		if level, ok := levels.around(h.lastHour - age); ok {
			weight.add(at, w)
			sum.add(at, w*(tempC-level))
		}
	})
	s.known = true
	s.departure = smoothDay(shrink(sum, weight))
	s.profile = profileOf(profile, profileWeight, &s.departure, h)
	return s
}

func shrink(sum, weight byClock) (departure byClock) {
	for i := range departure {
		departure[i] = sum[i] / (weight[i] + shapePrior)
	}
	return departure
}

// smoothDay runs 1-2-1 round the clock and takes the mean out.
func smoothDay(in byClock) (out byClock) {
	mean := 0.0
	for i := range in {
		before, after := in[(i+clockHours-1)%clockHours], in[(i+1)%clockHours]
		out[i] = (before + 2*in[i] + after) / 4
		mean += out[i] / clockHours
	}
	for i := range out {
		out[i] -= mean
	}
	return out
}

// profileOf is the weighted mean temperature by hour; an hour never seen takes the level plus the departure.
func profileOf(sum, weight byClock, departure *byClock, h *history) (profile byClock) {
	level, _, _ := h.meanAndRange(24)
	for i := range profile {
		profile[i] = level + departure[i]
		if weight[i] > 0 {
			profile[i] = sum[i] / weight[i]
		}
	}
	return profile
}

// levels answers the centered 24-hour mean of any hour from running sums.
type levels struct {
	first  int64 // oldest hour on record
	span   int64
	sum    [historyHours + 1]float64
	counts [historyHours + 1]int32
}

func (l *levels) fill(h *history) {
	l.first, l.span = h.lastHour-h.hourSpan+1, h.hourSpan
	for i := range h.hourSpan {
		l.sum[i+1], l.counts[i+1] = l.sum[i], l.counts[i]
		if v := h.hour(l.first + i); !math.IsNaN(v) {
			l.sum[i+1] += v
			l.counts[i+1]++
		}
	}
}

// around averages the two 24-hour windows that straddle an hour; most of the day must be known. In the last
// half day no such window exists yet: the mean of the last 24 hours stands in while the record is shorter
// than two days.
func (l *levels) around(hour int64) (level float64, ok bool) {
	i := hour - l.first
	span := l.span
	if i+12 >= span || i < 12 {
		if span >= 48 {
			return 0, false
		}
		i = min(max(i, 12), span-12)
		return l.window(i-12, i+12)
	}
	early, okEarly := l.window(i-12, i+12)
	late, okLate := l.window(i-11, i+13)
	return (early + late) / 2, okEarly && okLate
}

// window is the mean of the known hours in [from, to), at least three quarters of them.
func (l *levels) window(from, to int64) (mean float64, ok bool) {
	n := l.counts[to] - l.counts[from]
	if int64(n)*4 < (to-from)*3 {
		return 0, false
	}
	return (l.sum[to] - l.sum[from]) / float64(n), true
}
