package forecast

import "math"

const (
	hindcastEvery   = 3 // hours between hindcasts
	hindcastsPerDay = 24 / hindcastEvery
	openHindcasts   = leads / hindcastEvery
	errorPaths      = 21 * hindcastsPerDay // 21 days of whole error paths
	// maxErrorGap is the longest run of unknown hours a line may bridge.
	maxErrorGap = 6
)

// errorPath is forecast minus truth for the 72 hours after an origin, K; index 0 is lead 1.
type errorPath [leads]float32

// hindcasts are the forecasts waiting for truth and the whole error paths of those that got it. Whole, because the
// errors of one forecast hang together and a cure adds them up.
type hindcasts struct {
	open  [openHindcasts]openHindcast
	paths [errorPaths]errorPath
	kept  int // error paths ever kept
}

type openHindcast struct {
	issued int64 // the hour that lead 1 means (Unix time / 3600)
	live   bool
	errK   errorPath // forecast until the truth is known, error from then on
}

// issue stores a forecast made at the start of an hour.
func (h *hindcasts) issue(hour int64, forecast *curve) {
	o := &h.open[ring(hour/hindcastEvery, openHindcasts)]
	o.issued, o.live = hour, true
	for i := range o.errK {
		o.errK[i] = float32(forecast[i+1])
	}
}

// verify compares every open forecast with the truth of one hour.
func (h *hindcasts) verify(hour int64, truthC float64) {
	for i := range h.open {
		o := &h.open[i]
		lead := hour - o.issued + 1
		if !o.live || lead < 1 || lead > leads {
			continue
		}
		o.errK[lead-1] -= float32(truthC)
		if lead == leads {
			o.live = false
			h.keep(o.errK)
		}
	}
}

// forget drops the open forecasts: something nobody could foresee happened.
func (h *hindcasts) forget() {
	for i := range h.open {
		h.open[i].live = false
	}
}

// keep files a finished error path, unless too much of its truth is missing.
func (h *hindcasts) keep(p errorPath) {
	if p.bridge() {
		h.paths[h.kept%errorPaths] = p
		h.kept++
	}
}

// known are the error paths on record.
func (h *hindcasts) known() []errorPath { return h.paths[:min(h.kept, errorPaths)] }

// days of error paths on record.
func (h *hindcasts) days() float64 { return float64(len(h.known())) / hindcastsPerDay }

// mean of the error paths on record, as a curve that starts at zero.
func (h *hindcasts) mean() (bias curve) {
	known := h.known()
	for i := range known {
		for lead, e := range known[i] {
			bias[lead+1] += float64(e) / float64(len(known))
		}
	}
	return bias
}

// meanAbs error at a lead, NaN without any on record.
func (h *hindcasts) meanAbs(lead int) float64 {
	known, sum := h.known(), 0.0
	for i := range known {
		sum += math.Abs(float64(known[i][lead-1]))
	}
	return sum / float64(len(known))
}

// unfold writes an error path's departure from the mean, inflated, as a curve that starts at zero.
func (p *errorPath) unfold(bias *curve, inflate float64, out *curve) {
	out[0] = 0
	for i, e := range p {
		out[i+1] = inflate * (float64(e) - bias[i+1])
	}
}

// bridge fills short runs of unknown errors by a line; false when a run is too long.
func (p *errorPath) bridge() bool {
	last, lastK := -1, float32(0) // the error now is zero
	for i, e := range p {
		if math.IsNaN(float64(e)) {
			continue
		}
		if i-last-1 > maxErrorGap {
			return false
		}
		for j := last + 1; j < i; j++ {
			p[j] = lastK + (e-lastK)*float32(j-last)/float32(i-last)
		}
		last, lastK = i, e
	}
	if leads-last-1 > maxErrorGap {
		return false
	}
	for j := last + 1; j < leads; j++ {
		p[j] = lastK
	}
	return true
}
