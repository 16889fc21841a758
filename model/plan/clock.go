package plan

import (
	"math"

	"pourward/model/cure"
)

// nineInTen is the standard normal score below which nine in ten lie.
const nineInTen = 1.2815515655446004

// at is what a path's account had come to at an instant, s; straight between points.
func (a *ageing) at(i int, s float64) cure.Account {
	p := i*points + int(s/step)
	part := s/step - float64(int(s/step))
	return cure.Account{Age: a.age[p] + (a.age[p+1]-a.age[p])*part, DEa: a.dea[p] + (a.dea[p+1]-a.dea[p])*part}
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
	begun, before := a.at(i, from), 0.0
	age, dea := a.age[i*points:(i+1)*points], a.dea[i*points:(i+1)*points]
	for p := int(from/step) + 1; p < points; p++ {
		coldest, hottest = min(coldest, path[p]), max(hottest, path[p])
		acc := cure.Account{Age: age[p] - begun.Age, DEa: dea[p] - begun.DEa}
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
		since := max(from, float64(p-1)*step)
		part := min(1, max(0, (need-before)/(acc.Age-before)))
		return since + (float64(p)*step-since)*part, true
	}
	return 0, false
}
