package model_test

import (
	"math"

	"pourward/model/material"
)

// saturation is the vapor pressure over liquid water, Pa: WMO-No. 8 (2018), annex 4.B.
func saturation(tempC float64) float64 { return 611.2 * math.Exp(17.62*tempC/(243.12+tempC)) }

// film is a coat at one place of the band, by the documentation of the package dry.
type film struct {
	of          material.Material
	score       float64
	latentJ     float64 // of the liquid: CRC Handbook, as in the table of classes
	wetS, filmS float64 // length of the stages in the sheet's air
	water       bool
}

const (
	sheetSD      = 0.30
	heatJ        = 10e3 // what is not known of the latent heat
	dampShare    = 0.35
	fastest      = 1.5
	coldHold     = 10.0
	hotCap       = 35.0
	dampHold     = 0.85
	waterFilmJ   = 50e3
	coatStep     = 2 * 1000 // ms
	coatShareTol = 0.5e-3   // stated for the clock itself: 3e-4 of the dry time,
	coatHoldTol  = 1e-3     // and this wherever a hold begins or ends
)

func newFilm(of material.Material, score float64) film {
	f := film{of: of, score: score, water: of.Coat.Class == material.WaterBorne}
	f.latentJ = map[material.Class]float64{
		material.Lacquer: 44000, material.Alcohol: 42300, material.LightNaphtha: 36570, material.MineralSpirit: 51420,
	}[of.Coat.Class]
	wet := 0.5
	if of.Coat.Class == material.LightNaphtha || of.Coat.Class == material.MineralSpirit {
		wet = 1
	}
	f.wetS, f.filmS = wet*of.Coat.Ref.Seconds(), (1-wet)*of.Coat.Ref.Seconds()
	return f
}

// rates are the speeds of both stages, and whether the air lets the coat dry at all.
func (f film) rates(airC, filmC, humidity float64) (wet, dry float64, runs bool) {
	humidity = min(humidity, 1)
	if filmC < coldHold || f.water && (math.IsNaN(humidity) || humidity > dampHold) {
		return 0, 0, false
	}
	if over := filmC - hotCap; over > 0 {
		filmC, airC = hotCap, airC-over
	}
	deficit := saturation(filmC) - humidity*saturation(airC)
	if deficit <= 0 { // not so where the humidity is not known
		return 0, 0, false
	}
	inverse := 1/(filmC+kelvins) - 1/(f.of.RefC+kelvins)
	wet = math.Exp(-f.latentJ / gasJ * inverse)
	dry = wet
	heat, damp := heatJ/gasJ*inverse, 0.0
	if f.water {
		wet = deficit / ((1 - f.of.Coat.RefHumidity) * saturation(f.of.RefC))
		dry = math.Exp(-waterFilmJ / gasJ * inverse)
		damp = dampShare * math.Log(wet)
	}
	sd := math.Sqrt(sheetSD*sheetSD + heat*heat + damp*damp)
	slow, ceiling := math.Exp(-f.score*sd), fastest*math.Exp(-f.score*sheetSD)
	return min(wet*slow, ceiling), min(dry*slow, ceiling), true
}

// share is how far the coat has come by an instant, in parts of the sheet's time; it goes on beyond 1. Middle of
// each two seconds; what was not measured does not count.
func (f film) share(spans []span, until int64) float64 {
	var wet, dry float64
	for _, p := range spans {
		if p.gap || p.a >= until {
			continue
		}
		for a := p.a; a < min(p.b, until); a += coatStep {
			b := min(a+coatStep, p.b, until)
			w, d, runs := f.rates(p.at((a + b) / 2))
			if !runs {
				continue
			}
			seconds := float64(b-a) / 1000
			if f.filmS > 0 && wet+w*seconds > f.wetS {
				if left := f.wetS - wet; left > 0 {
					wet, seconds = f.wetS, seconds-left/w
				}
				dry += d * seconds
				continue
			}
			wet += w * seconds
		}
	}
	return (wet + dry) / (f.wetS + f.filmS)
}

// tolerance is what the engine may be off by an instant: each hold that begins or ends on the way adds its own.
func (f film) tolerance(spans []span, until int64) float64 {
	tol, ran := coatShareTol, true
	for _, p := range spans {
		if p.gap || p.a >= until {
			continue
		}
		for a := p.a; a < min(p.b, until); a += coatStep {
			if _, _, runs := f.rates(p.at((a + min(a+coatStep, p.b, until)) / 2)); runs != ran {
				tol, ran = tol+coatHoldTol, runs
			}
		}
	}
	return tol
}

// at is the air of a span at an instant: air and film, °C, and humidity.
func (p span) at(at int64) (airC, filmC, humidity float64) {
	x := float64(at-p.a) / float64(p.b-p.a)
	between := func(v [2]float64) float64 { return v[0] + (v[1]-v[0])*x }
	airC, filmC = between(p.air), between(p.face)
	if math.IsNaN(filmC) {
		filmC = airC
	}
	return airC, filmC, between(p.humid)
}
