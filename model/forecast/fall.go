package forecast

import "math"

const (
	unfittedTau    = 15 // hours, until a fall has been seen
	unfittedBelowK = 3  // the fall then ends so far below the coldest hour of the past week
	minTauHours    = 0.5
	maxTauHours    = 200
	minFitHours    = 3
)

// fit learns from the fall so far.
func (w *watch) fit(h *history) {
	var buffer [maxEpisode + fallTail + 2]float64
	fall := buffer[:0]
	for b := max(w.since, h.lastBin-h.binSpan+1); b <= h.lastBin && len(fall) < cap(fall); b++ {
		if v := h.bin(b); !math.IsNaN(v) {
			fall = append(fall, v)
		}
	}
	if len(fall) < minFitHours*binsPerHour {
		return
	}
	// Steps of a quarter of the fall: over ten minutes noise would pass for a quick approach.
	lag := len(fall) / 4
	var pairs fallFit
	for k := range len(fall) - lag {
		pairs.add(1, fall[k]-fall[0], fall[k+lag]-fall[0])
	}
	if tau, rest, ok := pairs.solve(float64(lag) / binsPerHour); ok {
		w.fall, w.fitted = course{tau, rest + fall[0]}, true
	}
}

// course is an exponential approach to a temperature.
type course struct{ tauHours, restC float64 }

func (c course) after(tempC, hours float64) float64 {
	return c.restC + (tempC-c.restC)*math.Exp(-hours/c.tauHours)
}

// FitFall fits an exponential fall to equally spaced temperatures: T[k+1] = c + a T[k], so that the time constant
// is -step/ln a and the temperature fallen towards c/(1-a). It reports false unless the time constant lies
// between half an hour and 200 hours.
func FitFall(tempC []float64, stepHours float64) (tauHours, restC float64, ok bool) {
	if len(tempC) == 0 {
		return 0, 0, false
	}
	var fit fallFit
	for k := range len(tempC) - 1 {
		fit.add(1, tempC[k]-tempC[0], tempC[k+1]-tempC[0]) // differences keep the sums small
	}
	tauHours, restC, ok = fit.solve(stepHours)
	return tauHours, restC + tempC[0], ok
}

// fallFit collects successive temperatures for the regression of each on the one before.
type fallFit struct{ n, x, y, xx, xy float64 }

func (f *fallFit) add(weight, from, to float64) {
	f.n += weight
	f.x, f.y = f.x+weight*from, f.y+weight*to
	f.xx, f.xy = f.xx+weight*from*from, f.xy+weight*from*to
}

func (f *fallFit) solve(stepHours float64) (tauHours, restC float64, ok bool) {
	spread := f.n*f.xx - f.x*f.x
	if f.n < 3 || spread <= 0 {
		return 0, 0, false
	}
	a := (f.n*f.xy - f.x*f.y) / spread
	if a <= 0 || a >= 1 {
		return 0, 0, false
	}
	tauHours = -stepHours / math.Log(a)
	return tauHours, (f.y - a*f.x) / f.n / (1 - a), tauHours > minTauHours && tauHours < maxTauHours
}
