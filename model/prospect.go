package model

import (
	"math"

	"pourward/model/air"
	"pourward/model/cure"
	"pourward/model/forecast"
	"pourward/model/material"
)

// A pour must find the air fit for longer than a moment: inside the rubber's window until the working life
// is over, and not so cold before the cure is half done that some products of its class never cure. After
// that a network holds, and cold only makes it late: the half is an assumption.
const (
	pourSlot  = 0.25 // hours between the beginnings that are tried
	slots     = int((forecast.Steps-1)/pourSlot) + 1
	halfCured = 0.5
	nineInTen = 0.9
	oneInTen  = 0.1
)

// pourNeeds is what a rubber asks of the air from the pour on.
type pourNeeds struct {
	work, cure cure.Arrhenius
	workS      float64 // age at which the working life is over, s; 0 = not known
	halfS      float64 // age at which the cure is half done, s; 0 = not known
	window     material.Window
	doubtC     float64 // below it some products of the class do not cure, °C
	humidity   material.Humidities
}

func needsOf(of material.Material) pourNeeds {
	work := withSecond(of, of.WorkingLife, of.Second.WorkingLife)
	demold := withSecond(of, of.Demold, of.Second.Demold)
	return pourNeeds{
		work: law(of, work), workS: work.Ref.Seconds(),
		cure: law(of, demold), halfS: halfCured * demold.Ref.Seconds(),
		window: of.Pour, doubtC: of.DoubtBelowC, humidity: dampLimits(of),
	}
}

// dampLimits is the humidity a material may be used in: what its sheet says, within the usual ceiling.
func dampLimits(of material.Material) material.Humidities {
	h := of.Humidity
	if h.Max == 0 {
		h.Max = dampCeiling
	}
	h.Max = min(h.Max, dampCeiling)
	return h
}

// chances are shares of all paths, 0 to 1, for a pour begun at an instant.
type chances struct {
	fit   float64 // nothing speaks against it
	cold  float64 // below the window before the working life is over
	warm  float64 // above it
	chill float64 // below where some products do not cure, before half cured; or not half cured within the forecast
}

// prospect are the chances at every slot from the newest sample on.
type prospect []chances

// prospectOf runs every path through what a rubber needs. surf is the pattern's own temperature, nil where
// it is not measured.
func prospectOf(n pourNeeds, a, surf *ahead) prospect {
	out := make(prospect, slots)
	w := newPourWalk(n, a)
	for i := range pathCount {
		w.path(i)
		for g := range out {
			w.count(&out[g], g, surf, i)
		}
	}
	for g := range out {
		for _, share := range []*float64{&out[g].fit, &out[g].cold, &out[g].warm, &out[g].chill} {
			*share /= pathCount
		}
	}
	return out
}

// pourWalk is one path in slots, with what is needed to judge any beginning on it at once.
type pourWalk struct {
	needs      pourNeeds
	from       *ahead
	dewC       float64 // held, since a closed shop keeps its moisture; NaN = not known
	temp       [slots]float64
	over, half [slots]int // slot by which the working life is over, and the cure half done
	below      [slots]int // next slot below the window
	above      [slots]int // next slot above it
	doubt      [slots]int // next slot below where some products do not cure
}

func newPourWalk(n pourNeeds, a *ahead) *pourWalk {
	return &pourWalk{needs: n, from: a, dewC: air.DewPointC(a.now.temp, a.now.hum)}
}

// path sets the walk to path i.
func (w *pourWalk) path(i int) {
	for g := range w.temp {
		w.temp[g] = w.from.at(i, float64(g)*pourSlot)
	}
	w.ends(&w.over, w.needs.work, w.needs.workS, i)
	w.ends(&w.half, w.needs.cure, w.needs.halfS, i)
	next(&w.below, func(g int) bool { return w.temp[g] < w.needs.window.MinC })
	next(&w.above, func(g int) bool { return w.temp[g] > w.needs.window.MaxC })
	next(&w.doubt, func(g int) bool { return w.temp[g] < w.needs.doubtC })
}

// ends finds the first slot at which something begun in each slot has reached an age; slots where that is
// beyond the forecast.
func (w *pourWalk) ends(into *[slots]int, law cure.Arrhenius, need float64, i int) {
	ages := w.from.table(law)[i*forecast.Steps : (i+1)*forecast.Steps]
	end := 0
	for g := range into {
		from := ageAt(ages, g)
		for end = max(end, g); end < slots && ageAt(ages, end)-from < need; end++ {
		}
		into[g] = end
	}
}

// ageAt is the age at a slot, straight between hours.
func ageAt(ages []float64, g int) float64 {
	hour := float64(g) * pourSlot
	k := min(int(hour), len(ages)-2)
	return ages[k] + (ages[k+1]-ages[k])*(hour-float64(k))
}

// next fills in, for every slot, the first from there on at which something holds; slots where it never does.
func next(into *[slots]int, holds func(g int) bool) {
	at := slots
	for g := slots - 1; g >= 0; g-- {
		if holds(g) {
			at = g
		}
		into[g] = at
	}
}

// count judges a pour begun in slot g.
func (w *pourWalk) count(c *chances, g int, surf *ahead, i int) {
	cold, warm := w.below[g] <= w.over[g] && w.below[g] < slots, w.above[g] <= w.over[g] && w.above[g] < slots
	chill := w.half[g] == slots || w.doubt[g] <= w.half[g]
	for _, one := range []struct {
		is    bool
		share *float64
	}{{cold, &c.cold}, {warm, &c.warm}, {chill, &c.chill}, {!cold && !warm && !chill && w.clear(g, surf, i), &c.fit}} {
		if one.is {
			*one.share++
		}
	}
}

// clear reports whether air and pattern are free of damp in slot g. What is not measured is not judged.
func (w *pourWalk) clear(g int, surf *ahead, i int) bool {
	if h := w.from.hum(w.temp[g]); !math.IsNaN(h) && !w.needs.humidity.Holds(h) {
		return false
	}
	if surf == nil || surf.paths == nil || math.IsNaN(w.dewC) {
		return true
	}
	return surf.at(i, float64(g)*pourSlot)-w.dewC >= dewMarginK
}
