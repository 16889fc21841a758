package heat

import (
	"fmt"
	"math"
)

// longestStep is the longest step, s, that backward Euler takes at once: 0.016
// K of error in the middle of 40 mm after a jump of 10 K.
const longestStep = 60.0

// mostParts bounds the work of one call; it is reached after two years without a reading.
const mostParts = 1 << 20

// Step carries s to the next reading, seconds later, with the air at airC by
// then. It is backward Euler with the air of the new instant: whatever the
// step, nothing ever gets colder or warmer than what surrounds it made it, and
// noise in the readings does not ring. Longer than a minute it goes in parts
// of at most a minute, the air changing linearly.
//
// A reading of a probe in or on the body overrides the model there. Step does
// not allocate. It refuses an air temperature or a time that is not a number
// and leaves s as it was.
func (s *State) Step(airC, seconds float64, measured ...Measured) error {
	if !finite(airC, seconds) || seconds < 0 {
		return fmt.Errorf("step a mold by %g s to air of %g °C: want numbers and no step back", seconds, airC)
	}
	if seconds == 0 {
		return nil
	}
	set, toC := pins(measured)
	var fromC [mostPins]float64
	for k, p := range set {
		if p.kind != noProbe {
			fromC[k] = s.ProbeC(p)
		}
	}
	fromAirC := s.airC
	if math.IsNaN(fromAirC) {
		fromAirC = airC
	}
	parts := min(math.Ceil(seconds/longestStep), mostParts)
	s.plan.factor(s.body, seconds/parts, set)
	for part := 1.0; part < parts; part++ {
		share := part / parts
		between := fromC
		for k := range between {
			between[k] += share * (toC[k] - fromC[k])
		}
		s.euler(fromAirC+share*(airC-fromAirC), between)
	}
	s.euler(airC, toC)
	return nil
}

// euler is one backward Euler step of the plan's length.
func (s *State) euler(airC float64, pinC [mostPins]float64) {
	s.eulerBetween(airC, airC, nil, pinC)
}

// eulerBetween is euler with an air of its own on the left and sources, W, in every cell.
func (s *State) eulerBetween(leftC, rightC float64, sources []float64, pinC [mostPins]float64) {
	b, r, seconds := s.body, s.rhs, s.plan.seconds
	own, t := s.plan.own[:len(r)], s.tempC[:len(r)]
	for i := range r {
		r[i] = own[i] * t[i]
	}
	for i, w := range sources {
		r[i] += w
	}
	if b.reacts() {
		b.react(r, s.conversion, t, seconds)
	}
	b.surround(r, &s.plan.pins, leftC, rightC)
	if s.plan.pins != (pinned{}) {
		b.load(r, s.plan.pins, pinC)
	}
	s.plan.solve(r)
	s.tempC, s.rhs = r, t
	s.airC, s.held, s.heldC = rightC, s.plan.pins, pinC
	s.accrue(seconds)
}

// surround adds the heat that the air on either side lets in to r, unless a
// probe sits on that face.
func (b *Body) surround(r []float64, set *pinned, leftC, rightC float64) {
	last := len(r) - 1
	if !set.face(0) {
		r[0] += b.link[0] * leftC
	}
	if !set.face(last + 1) {
		r[last] += b.link[last+1] * rightC
	}
}
