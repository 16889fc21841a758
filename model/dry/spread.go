package dry

import (
	"math"

	"pourward/model/air"
)

// Parts of the spread of ln dry time. All are judgement: no refereed table of
// dry time against temperature and humidity was found to fit them to.
const (
	sheetSD     = 0.30  // the sheet's time against a like coat at the reference air
	handSD      = 0.15  // what stays of it after many touch tests
	heatSpreadJ = 10000 // uncertainty of the apparent activation energy, J/mol
	dampSpread  = 0.35  // share of ln of the humidity effect that may be wrong
)

// LnSD is the standard deviation of the natural logarithm of the coat's dry
// time in steady air like a. It grows with the distance from the reference air
// and is NaN where the temperature, or a humidity the class needs, is unknown. A
// stated wait has none.
func (c Coat) LnSD(a Air) float64 {
	k := c.clock()
	m := a.moment()
	wet := 1.0
	if k.deficit {
		wet, _ = k.rates(m, air.SaturationPa(m.filmC)-m.humidity*air.SaturationPa(m.airC))
	}
	return k.lnSD(m.filmC, wet)
}

// lnSD puts the parts of the spread together for a film temperature and an
// uncapped wet rate.
func (k *clock) lnSD(filmC, wet float64) float64 {
	heat := heatSpreadJ / gasConstant * (1/(filmC+kelvin) - k.inverseRefK)
	sum := k.baseSD*k.baseSD + heat*heat
	if k.deficit {
		damp := dampSpread * math.Log(wet)
		sum += damp * damp
	}
	return k.spread * math.Sqrt(sum)
}

// banded slows or quickens a pace to its place in the band. The ceiling moves
// with the reference spread alone, so that a colder film stays the slower one
// at every place in the band.
func (k *clock) banded(p pace, m moment) pace {
	z := k.coat.StandardScore
	factor := math.Exp(-z * k.lnSD(m.filmC, p.wet))
	ceiling := fastestRate * math.Exp(-z*k.spread*k.baseSD)
	p.wet = math.Min(p.wet*factor, ceiling)
	p.film = math.Min(p.film*factor, ceiling)
	return p
}
