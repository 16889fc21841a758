package forecast

import "math"

const (
	errorPaths    = 21 * hindcastsPerDay // 21 days of whole error paths
	openHindcasts = leads / hindcastEvery
	// maxErrorGap is the longest run of unknown hours a line may bridge inside an error path.
	maxErrorGap = 6
)

// errorPath is forecast minus truth for the 72 hours after an origin, K; index 0 is lead 1.
type errorPath struct {
	issued int64 // the hour that lead 1 means (Unix time / 3600)
	errK   [leads]float32
}

// hindcasts are the forecasts waiting for truth and the error paths of those that got it.
type hindcasts struct {
	open     [openHindcasts]openHindcast
	paths    [errorPaths]errorPath
	complete int // error paths ever completed
}

type openHindcast struct {
	issued   int64
	live     bool
	combined errorPath
	all      [NumCandidates][leads]float32
}

// issue stores a forecast made at the start of an hour.
func (h *hindcasts) issue(hour int64, all *[NumCandidates]curve, combined *curve) {
	o := &h.open[ring(hour/hindcastEvery, openHindcasts)]
	o.issued, o.live = hour, true
	o.combined.issued = hour
	for lead := 1; lead <= leads; lead++ {
		o.combined.errK[lead-1] = float32(combined[lead])
		for c := range all {
			o.all[c][lead-1] = float32(all[c][lead])
		}
	}
}

// verify compares every open forecast with the truth of one hour.
func (h *hindcasts) verify(hour int64, truthC float64, s *skill) {
	for i := range h.open {
		o := &h.open[i]
		lead := hour - o.issued + 1
		if !o.live || lead < 1 || lead > leads {
			continue
		}
		o.combined.errK[lead-1] -= float32(truthC)
		for c := range o.all {
			if e := float64(o.all[c][lead-1]) - truthC; !math.IsNaN(e) {
				s.learn(Candidate(c), int(lead), e)
			}
		}
		if lead == leads {
			o.live = false
			h.keep(o.combined)
		}
	}
}

// keep files a finished error path, unless too much of its truth is missing.
func (h *hindcasts) keep(p errorPath) {
	if p.bridge() {
		h.paths[h.complete%errorPaths] = p
		h.complete++
	}
}

// bridge fills short runs of unknown errors by a line; false when a run is too long.
func (p *errorPath) bridge() bool {
	last, lastK := -1, float32(0) // the error now is zero
	for i, e := range p.errK {
		if math.IsNaN(float64(e)) {
			continue
		}
		if i-last-1 > maxErrorGap {
			return false
		}
		for j := last + 1; j < i; j++ {
			p.errK[j] = lastK + (e-lastK)*float32(j-last)/float32(i-last)
		}
		last, lastK = i, e
	}
	if leads-last-1 > maxErrorGap {
		return false
	}
	for j := last + 1; j < leads; j++ {
		p.errK[j] = lastK
	}
	return true
}

// days of error paths on record.
func (h *hindcasts) days() float64 { return float64(min(h.complete, errorPaths)) / hindcastsPerDay }

// known are the error paths on record.
func (h *hindcasts) known() []errorPath { return h.paths[:min(h.complete, errorPaths)] }

// mean of the error paths on record, as a curve that starts at zero.
func (h *hindcasts) mean() (bias curve) {
	known := h.known()
	for i := range known {
		for lead, e := range known[i].errK {
			bias[lead+1] += float64(e) / float64(len(known))
		}
	}
	return bias
}

// unfold writes an error path's departure from the mean, inflated, as a curve that starts at zero.
func (p *errorPath) unfold(bias *curve, inflate float64, out *curve) {
	out[0] = 0
	for i, e := range p.errK {
		out[i+1] = inflate * (float64(e) - bias[i+1])
	}
}
