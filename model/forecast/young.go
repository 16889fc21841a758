package forecast

import (
	"math"
	"sort"
	"time"
)

// YoungScore is how often the 80 % band held for cures poured when the forecaster had known the place for a
// while only.
type YoungScore struct {
	AgeHours, NeedHours  float64
	Count                int
	Coverage, WidthHours float64 // the width leaves out bands without an end
}

var youngAges = []int64{1, 6, 24, 72, 168}

// youngEvery is how many hours lie between fresh starts: no multiple of a day, so that all times of day are met.
const youngEvery = 41

// ScoreYoung installs a new forecaster again and again along a climate and pours cures at every young age.
func ScoreYoung(s Series, o ScoreOptions) []YoungScore {
	o = o.withDefaults()
	t := truthOf(s.Readings)
	y := youngRun{series: s, options: o, truth: t, sums: make([]YoungScore, len(youngAges)*len(o.NeedHours))}
	for hour := t.first + 1; hour < t.first+int64(len(t.hourC)); hour += youngEvery {
		y.install(hour)
	}
	return y.scores()
}

type youngRun struct {
	series  Series
	options ScoreOptions
	truth   truth
	sums    []YoungScore
	paths   Paths
	times   []float64
}

// install starts a new forecaster at an hour and follows it through all ages.
func (y *youngRun) install(hour int64) {
	f := New(Options{Zone: y.series.Zone, Shadows: []Cure{{20, y.options.Rate}, {48, y.options.Rate}}})
	readings := y.series.Readings
	next := sort.Search(len(readings), func(i int) bool { return readings[i].At.Unix() >= hour*hourSeconds })
	if next == len(readings) || readings[next].At.Unix() >= (hour+1)*hourSeconds {
		return // the record is silent here
	}
	for i, age := range youngAges {
		origin := time.Unix((hour+age)*hourSeconds, 0).UTC()
		for ; next < len(readings) && !readings[next].At.After(origin); next++ {
			f.Observe(readings[next].At, readings[next].TempC)
		}
		if origin.Sub(readings[next-1].At) <= time.Hour && f.PathsInto(&y.paths, origin, y.options.Paths) {
			y.pour(f, i, hour+age)
		}
	}
}

func (y *youngRun) pour(f *Forecaster, ageIndex int, hour int64) {
	for j, need := range y.options.NeedHours {
		actual := y.truth.completion(hour, y.options.Rate, need)
		if math.IsNaN(actual) {
			continue
		}
		y.times = y.paths.Completions(Cure{NeedHours: need, Rate: y.options.Rate}, 0, y.times)
		band := f.Band(y.times)
		s := &y.sums[ageIndex*len(y.options.NeedHours)+j]
		s.AgeHours, s.NeedHours = float64(youngAges[ageIndex]), need
		s.Count++
		if band.Holds(actual) {
			s.Coverage++
		}
		s.WidthHours += min(band.WidthHours(), maxCompletionHours)
	}
}

func (y *youngRun) scores() []YoungScore {
	for i := range y.sums {
		s := &y.sums[i]
		s.Coverage /= float64(s.Count)
		s.WidthHours /= float64(s.Count)
	}
	return y.sums
}
