package forecast

import (
	"math"
	"slices"
)

// CureScore is how the completion times told at pouring fared for one length of cure. Errors are shares of the
// true duration; times are in hours.
type CureScore struct {
	NeedHours float64
	Count     int // with a settled history
	Coverage  float64
	// CoverageAll counts every cure since the first hour of the record.
	CoverageAll, TooEarly, TooLate float64
	WidthHours, MedianWidthHours   float64 // the mean leaves out bands without an end
	Endless                        float64 // share of those
	IntervalScoreHours, CRPSHours  float64
	MeanError, P90Error            float64
	MedianError                    float64
	PIT                            [pitBins]int
	Baselines                      []BaselineScore
	Aging                          []AgingScore
}

// BaselineScore is the same for a baseline, with a split conformal band from its own recent outcomes.
type BaselineScore struct {
	Name                 string
	Coverage, WidthHours float64
	// MatchedWidthHours is the width this baseline would have needed for the forecast's own coverage, had one known
	// the best constant ratio beforehand.
	MatchedWidthHours   float64
	MeanError, P90Error float64
	MedianError         float64
}

// AgingScore is how the time told improves as a cure advances.
type AgingScore struct {
	Done                float64 // share of the true duration gone by
	MeanError, P90Error float64
	Coverage            float64
	errs                []float64
	held                float64
}

// outcome is one cure: what was told and what happened.
type outcome struct {
	hour     int64
	actual   float64
	band     Band
	baseline [baselines]float64
}

func (o *outcome) ready() int64 { return o.hour + int64(math.Ceil(o.actual)) }

// cureTally collects the outcomes of one length of cure.
type cureTally struct {
	need    float64
	all     []outcome
	settled int // how many of all, from the end, had a settled history
	crps    float64
	pit     [pitBins]int
	aging   []AgingScore
}

func newCureTally(need float64) cureTally {
	return cureTally{need: need, aging: []AgingScore{{Done: 0}, {Done: 0.25}, {Done: 0.5}, {Done: 0.75}}}
}

func (c *cureTally) add(o outcome, members []float64, settled bool) {
	c.all = append(c.all, o)
	if !settled {
		return
	}
	c.settled++
	below, _ := slices.BinarySearch(members, o.actual)
	c.pit[min(below*pitBins/len(members), pitBins-1)]++
	finite := make([]float64, len(members))
	for i, m := range members {
		finite[i] = min(m, maxCompletionHours)
	}
	c.crps += CRPSFair(o.actual, finite)
}

func (c *cureTally) score() CureScore {
	s := CureScore{NeedHours: c.need, Count: c.settled, PIT: c.pit}
	n := float64(c.settled)
	s.CRPSHours = c.crps / n
	var errs, widths []float64
	for i := range c.all {
		o := &c.all[i]
		s.CoverageAll += share(o.band.Holds(o.actual), len(c.all))
		if i < len(c.all)-c.settled {
			continue
		}
		s.Coverage += share(o.band.Holds(o.actual), c.settled)
		s.TooEarly += share(o.actual < o.band.Earliest, c.settled)
		s.TooLate += share(o.actual > o.band.Latest, c.settled)
		s.Endless += share(math.IsInf(o.band.Latest, 1), c.settled)
		errs = append(errs, math.Abs(o.band.Likely/o.actual-1))
		widths = append(widths, o.band.WidthHours())
		s.IntervalScoreHours += IntervalScore(2*tailShare, o.band.Earliest, min(o.band.Latest, maxCompletionHours), o.actual) / n
	}
	s.MeanError, s.P90Error = meanAndP90(errs)
	s.MedianError = median(errs)
	s.WidthHours, s.MedianWidthHours = finiteMean(widths), median(widths)
	for b := range baselines {
		s.Baselines = append(s.Baselines, c.baselineScore(b, s.Coverage))
	}
	s.Aging = c.agingScores()
	return s
}

func (c *cureTally) agingScores() (out []AgingScore) {
	for _, a := range c.aging {
		n := float64(len(a.errs))
		a.MeanError, a.P90Error = meanAndP90(a.errs)
		a.Coverage = a.held / n
		a.errs = nil
		out = append(out, a)
	}
	return out
}

// baselineScore judges a baseline on the settled outcomes.
func (c *cureTally) baselineScore(b int, coverage float64) BaselineScore {
	s := BaselineScore{Name: baselineNames[b]}
	var errs, widths, ratios, told []float64
	held := 0
	for i := len(c.all) - c.settled; i < len(c.all); i++ {
		o := &c.all[i]
		if math.IsNaN(o.baseline[b]) {
			continue
		}
		errs = append(errs, math.Abs(o.baseline[b]/o.actual-1))
		ratios = append(ratios, o.actual/o.baseline[b])
		told = append(told, o.baseline[b])
		band, ok := c.conformal(b, i)
		if !ok {
			continue
		}
		widths = append(widths, band.WidthHours())
		if band.Holds(o.actual) {
			held++
		}
	}
	s.MeanError, s.P90Error = meanAndP90(errs)
	s.MedianError = median(errs)
	s.Coverage, s.WidthHours = float64(held)/float64(len(widths)), finiteMean(widths)
	s.MatchedWidthHours = matchedWidth(ratios, told, coverage)
	return s
}

// conformal is a baseline's band at outcome i, from the outcomes known by then.
func (c *cureTally) conformal(b, i int) (Band, bool) {
	now := &c.all[i]
	var ratios []float64
	for j := i - 1; j >= 0 && now.hour-c.all[j].hour <= baselineWindow; j-- {
		if o := &c.all[j]; o.ready() <= now.hour && !math.IsNaN(o.baseline[b]) {
			ratios = append(ratios, o.actual/o.baseline[b])
		}
	}
	if len(ratios) < baselineMinimum {
		return Band{}, false
	}
	slices.Sort(ratios)
	high := ConformalRank(len(ratios), tailShare)
	if high > len(ratios) {
		return Band{}, false
	}
	told := now.baseline[b]
	return Band{told * ratios[len(ratios)-high], told, told * ratios[high-1]}, true
}

// matchedWidth is the mean width of bands told*[q_low, q_high] with the ratios' own central quantiles.
func matchedWidth(ratios, told []float64, coverage float64) float64 {
	if len(ratios) == 0 {
		return math.NaN()
	}
	slices.Sort(ratios)
	miss := (1 - coverage) / 2
	sum := 0.0
	for _, t := range told {
		sum += t
	}
	return sum / float64(len(told)) * (Quantile(ratios, 1-miss) - Quantile(ratios, miss))
}

func meanAndP90(v []float64) (mean, p90 float64) {
	sorted := slices.Sorted(slices.Values(v))
	sum := 0.0
	for _, x := range sorted {
		sum += x
	}
	return sum / float64(len(sorted)), Quantile(sorted, 0.9)
}

func median(v []float64) float64 { return Quantile(slices.Sorted(slices.Values(v)), 0.5) }

func finiteMean(v []float64) float64 {
	sum, n := 0.0, 0.0
	for _, x := range v {
		if !math.IsInf(x, 0) && !math.IsNaN(x) {
			sum, n = sum+x, n+1
		}
	}
	return sum / n
}

func share(yes bool, of int) float64 {
	if yes {
		return 1 / float64(of)
	}
	return 0
}
