package forecast

import (
	"math"
	"slices"
)

const (
	watchBins    = 7 * 144 // a week of ten-minute ticks sets what is usual
	watchMinimum = 3 * 144
	alarmSigmas  = 4
	alarmTicks   = 3    // times running
	sigmaFloorK  = 0.05 // no probe is better than that
	madToSigma   = 1.4826
	sigmaEvery   = 36 // ticks between fresh estimates of the usual scatter
	fallTail     = 36 // ticks before an alarm in which the fall may have begun
	maxEpisode   = 72 * 6
)

// watchWindows are the spans, in ten-minute ticks, over which a fall is looked for: one, three and six hours.
var watchWindows = [...]int64{6, 18, 36}

// watch looks for the heating going off or coming back: a fall (or rise) over one, three or six hours that is far
// outside what the same clock hours did during the past week. A cumulative sum of one-step residuals is of no use
// here: the fall per step drowns in noise.
type watch struct {
	excess [len(watchWindows)][watchBins]float32 // change beyond the usual one, K, NaN where unknown
	sigma  [len(watchWindows)]float64            // its robust standard deviation, 0 until known
	falls  int                                   // ticks running with an excess fall
	rises  int

	off        bool
	stated     bool  // the maker said so
	mutedUntil int64 // no alarm before this tick
	trials     trials
	since      int64 // tick at which the fall began
	fall       course
	fitted     bool // a fall has been seen here
}

// tick takes the newest ten-minute mean.
func (w *watch) tick(h *history) {
	fall, rise := false, false
	for i, window := range watchWindows {
		x := excess(h, h.lastBin, window)
		w.excess[i][ring(h.lastBin, watchBins)] = float32(x)
		if limit := alarmSigmas * w.sigma[i]; limit > 0 {
			fall = fall || x < -limit
			rise = rise || x > limit
		}
	}
	w.falls, w.rises = run(w.falls, fall), run(w.rises, rise)
	switch {
	case !w.off && w.falls >= alarmTicks && h.lastBin >= w.mutedUntil && coldForTheHour(h):
		w.goOff(h)
	case w.off && !w.stated && (w.rises >= alarmTicks || h.lastBin-w.since > maxEpisode):
		w.off = false
	case w.off:
		w.fit(h)
	}
	if h.lastBin%sigmaEvery == 0 {
		w.rescale(h)
	}
}

// coldForTheHour reports whether the place is colder than at this time of any of the past seven days. A room
// falling back from an extra warm evening is not.
func coldForTheHour(h *history) bool {
	now := h.bin(h.lastBin)
	for d := int64(1); d <= 7; d++ {
		for k := int64(-3); k <= 3; k++ {
			if h.bin(h.lastBin-144*d+k) <= now {
				return false
			}
		}
	}
	return true
}

func run(n int, more bool) int {
	if more {
		return n + 1
	}
	return 0
}

// excess is the change over a window beyond the median change over the same clock window on the past seven days.
func excess(h *history, at, window int64) float64 {
	change := h.bin(at) - h.bin(at-window)
	var days [7]float64
	known := days[:0]
	for d := int64(1); d <= 7; d++ {
		if c := h.bin(at-144*d) - h.bin(at-144*d-window); !math.IsNaN(c) {
			known = append(known, c)
		}
	}
	if len(known) < 3 {
		return math.NaN()
	}
	slices.Sort(known)
	return change - Quantile(known, 0.5)
}

// rescale estimates the usual scatter of the excess by its median absolute deviation.
func (w *watch) rescale(h *history) {
	for i := range watchWindows {
		var buffer [watchBins]float64
		known := buffer[:0]
		for k := range min(h.binSpan, watchBins) {
			if x := float64(w.excess[i][ring(h.lastBin-k, watchBins)]); !math.IsNaN(x) {
				known = append(known, x)
			}
		}
		if len(known) < watchMinimum {
			w.sigma[i] = 0
			continue
		}
		slices.Sort(known)
		mid := Quantile(known, 0.5)
		for k := range known {
			known[k] = math.Abs(known[k] - mid)
		}
		slices.Sort(known)
		w.sigma[i] = max(madToSigma*Quantile(known, 0.5), sigmaFloorK)
	}
}

func (w *watch) goOff(h *history) {
	w.off, w.since = true, h.lastBin
	level := plateau(h)
	for b := h.lastBin; b > h.lastBin-fallTail; b-- {
		if h.bin(b) >= level {
			w.since = b
			break
		}
	}
	w.fit(h)
}

// plateau is the low end, the 10 % quantile, of the six hours before a fall could have begun; NaN where unknown.
func plateau(h *history) float64 {
	var buffer [fallTail]float64
	known := buffer[:0]
	for b := h.lastBin - 2*fallTail; b < h.lastBin-fallTail; b++ {
		if v := h.bin(b); !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	slices.Sort(known)
	return Quantile(known, 0.1)
}

// course is the fall seen here, or what stands in until one has been: from tempC a slow fall to somewhat below the
// coldest hour of the week.
func (w *watch) course(h *history, tempC float64) course {
	if w.fitted {
		return w.fall
	}
	low := tempC
	if c := h.coldest(hoursPerWeek); c < low {
		low = c
	}
	return course{unfittedTau, low - unfittedBelowK}
}

// credit is the share of paths on which the heating stays off; another such share sees it resumed.
func (w *watch) credit() float64 {
	switch {
	case !w.off:
		return 0
	case w.stated:
		return 1
	}
	return w.trials.credit()
}
