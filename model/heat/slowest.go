package heat

import "math"

// rims are the faces where curing material ends: the pattern's face and the
// skin. The slowest part of a mold is nearly always one of them, half a cell
// away from the nearest center, so they keep ages of their own. Two for each
// range of curing cells, left and right.
type rims struct {
	tempC       []float64
	ages, rates [][]float64 // by law and rim
}

func newRims(laws, ranges int) rims {
	return rims{make([]float64, 2*ranges), columns(laws, 2*ranges), columns(laws, 2*ranges)}
}

// copy makes r equal to from.
func (r *rims) copy(from *rims) {
	copy(r.tempC, from.tempC)
	for k := range r.ages {
		copy(r.ages[k], from.ages[k])
		copy(r.rates[k], from.rates[k])
	}
}

// measureRims sets the temperatures of the rims: of the probe where one sits there.
func (s *State) measureRims() {
	for i, c := range s.body.curing {
		s.rims.tempC[2*i] = s.ProbeC(Probe{int16(c.from), onFace})
		s.rims.tempC[2*i+1] = s.ProbeC(Probe{int16(c.to), onFace})
	}
}

// accrue adds the cure of one step to every age.
func (s *State) accrue(seconds float64) {
	s.measureRims()
	for k, law := range s.laws {
		for _, c := range s.body.curing {
			law.accrue(s.ages[k][c.from:c.to], s.rates[k][c.from:c.to], s.tempC[c.from:c.to], seconds)
		}
		law.accrue(s.rims.ages[k], s.rims.rates[k], s.rims.tempC, seconds)
	}
}

// Slowest is the part of the rubber that has cured least.
type Slowest struct {
	AgeSeconds float64 // equivalent seconds
	TempC      float64
	Layer      int
	DepthM     float64 // from the layer's left face: 0 at the pattern, the thickness at the skin
}

// Slowest finds the part that has cured least under a law, rims included. It is
// not ok when nothing cures or there is no such law.
func (s *State) Slowest(law int) (slowest Slowest, ok bool) {
	if law < 0 || law >= len(s.laws) || len(s.body.curing) == 0 {
		return Slowest{}, false
	}
	slowest.AgeSeconds = math.Inf(1)
	for k, c := range s.body.curing {
		for i, age := range s.ages[law][c.from:c.to] {
			if age < slowest.AgeSeconds {
				slowest = s.place(c.from+i, age)
			}
		}
		left, right := s.rims.ages[law][2*k], s.rims.ages[law][2*k+1]
		if left < slowest.AgeSeconds {
			slowest = s.place(c.from, left)
			slowest.TempC, slowest.DepthM = s.rims.tempC[2*k], 0
		}
		if right < slowest.AgeSeconds {
			slowest = s.place(c.to-1, right)
			slowest.TempC, slowest.DepthM = s.rims.tempC[2*k+1], s.body.build.Layers[slowest.Layer].Thickness
		}
	}
	return slowest, true
}

// place describes a cell.
func (s *State) place(cell int, age float64) Slowest {
	layer := s.body.layerOf(cell)
	from, to := s.body.LayerCells(layer)
	width := s.body.build.Layers[layer].Thickness / float64(to-from)
	return Slowest{age, s.tempC[cell], layer, (float64(cell-from) + 0.5) * width}
}
