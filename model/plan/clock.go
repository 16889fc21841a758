package plan

import (
	"math"

	"pourward/model/cure"
)

// nineInTen is the standard normal score below which nine in ten lie.
const nineInTen = 1.2815515655446004

// account is what a path adds to a law's account from one instant to a point, s.
func (a *ageing) account(i int, from float64, point int) cure.Account {
	base, k := i*points, int(from/step)
	part := from/step - float64(k)
	begun := func(sum []float64) float64 {
		return sum[base+k] + (sum[base+k+1]-sum[base+k])*part
	}
	return cure.Account{Age: a.age[base+point] - begun(a.age), DEa: a.dea[base+point] - begun(a.dea)}
}

// reached is when, on path i, something that begins at an instant has come to its event at a standard normal
// score: the instant at which Pourward would say so of that batch. ok is false where that is not within the
// forecast, or the path strays too far from the temperatures the material is known for.
func (k *sky) reached(c Clock, i int, from, score float64) (at float64, ok bool) {
	if from >= end {
		return 0, false
	}
	a, path := k.aged(c.Law), k.path(i)
	first := tempAt(path, from)
	coldest, hottest := first, first
	least := c.Seconds // no place of the band above the middle needs less
	if score < 0 {
		least *= 0.2 // nor one below it less than this
	}
	before := 0.0
	for p := int(from/step) + 1; p < points; p++ {
		coldest, hottest = min(coldest, path[p]), max(hottest, path[p])
		acc := a.account(i, from, p)
		if acc.Age < least {
			before = acc.Age
			continue
		}
		need := c.Seconds * math.Exp(score*c.Spread.LnSDOf(c.Law, acc, coldest, hottest))
		if acc.Age < need {
			before = acc.Age
			continue
		}
		if c.Spread.TooFar(coldest, hottest) {
			return 0, false
		}
		begun := max(from, float64(p-1)*step)
		part := min(1, max(0, (need-before)/(acc.Age-before)))
		return begun + (float64(p)*step-begun)*part, true
	}
	return 0, false
}
