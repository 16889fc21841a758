package doubt

import (
	"cmp"
	"math"
	"slices"
)

// place is where within the bounds that gaps leave an age is taken.
type place float64

// places are the nodes of Simpson's rule over the bounds: least, likely, most.
var places = [...]struct {
	at     place
	weight float64
}{{-1, 1. / 6}, {0, 2. / 3}, {1, 1. / 6}}

// age is the ln age of a check at a place in its bounds. Something liquid is worth a tacky thing of a
// greater age, by what is left between gel and firm.
func (k Check) age(at place, gelShare float64) float64 {
	age := k.LnAge
	switch {
	case at < 0:
		age -= k.LnLess
	case at > 0:
		age += k.LnMore
	}
	if k.Found == Liquid {
		age -= math.Log(gelShare)
	}
	return age
}

// touch is a finding reduced to what it says of the need.
type touch struct {
	age  float64
	firm bool
}

// steps is the probability of what was found of one thing as a function of its ln need: constant
// between the ages of its checks.
type steps struct {
	at    []float64 // ages, rising
	level []float64 // below the first of them, between each two, above the last
}

// stepsOf reduces the findings of one thing. A false "firm" has the given rate while the need is not met.
func stepsOf(touches []touch, falseFirm float64) steps {
	slices.SortFunc(touches, func(a, b touch) int {
		if c := cmp.Compare(a.age, b.age); c != 0 || a.firm == b.firm {
			return c
		}
		if a.firm {
			return 1
		}
		return -1
	})
	var s steps
	before := 1.0 // of the checks at ages below the need
	for k := range len(touches) + 1 {
		level := before
		for _, due := range touches[k:] {
			if !due.firm {
				level = 0
			}
		}
		s.add(touches, k, level)
		if k < len(touches) {
			before *= touches[k].notDue(falseFirm)
		}
	}
	return s
}

// add appends the level above the k-th age; an age that changes nothing is left out.
func (s *steps) add(touches []touch, k int, level float64) {
	if n := len(s.level); n > 0 {
		if s.level[n-1] == level {
			return
		}
		s.at = append(s.at, touches[k-1].age)
	}
	s.level = append(s.level, level)
}

// last is the level above all ages: of a cure that never comes.
func (s steps) last() float64 { return s.level[len(s.at)] }

// notDue is the probability of the finding while the need is not met.
func (t touch) notDue(falseFirm float64) float64 {
	if t.firm {
		return falseFirm
	}
	return 1 - falseFirm
}

// given is the probability of what was found where ln need is normal about mean with the given
// standard deviation.
func (s steps) given(mean, sd float64) float64 {
	sum, beyond := 0.0, 1.0
	for k, at := range s.at {
		next := above(at, mean, sd)
		sum += s.level[k] * (beyond - next)
		beyond = next
	}
	return sum + s.last()*beyond
}

// above is the probability that a normal variable exceeds x. Beyond twelve standard deviations (2e-33) it
// is taken as certain.
func above(x, mean, sd float64) float64 {
	z := (x - mean) / sd
	switch {
	case z > 12:
		return 0
	case z < -12:
		return 1
	}
	return math.Erfc(z/math.Sqrt2) / 2
}
