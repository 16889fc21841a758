package heat

import "math"

// LagSeconds is how far the slowest part of the rubber (of the whole body, when
// nothing in it cures) is behind an air that drifts steadily, once the drift
// has lasted; a slab on an adiabatic back has L²/2α + ρcL/h. It is +Inf when
// neither face meets the air.
func (b *Body) LagSeconds() float64 {
	if b.leftW == 0 && b.rightW == 0 {
		return math.Inf(1)
	}
	steady := newPlan(b)
	steady.factor(b, math.Inf(1), pinned{})
	lag := append([]float64(nil), b.heat...)
	steady.solve(lag)
	curing := b.curing
	if len(curing) == 0 {
		curing = []span{{0, len(lag)}}
	}
	longest := 0.0
	for _, c := range curing {
		for _, seconds := range lag[c.from:c.to] {
			longest = max(longest, seconds)
		}
	}
	return longest
}
