package forecast

import (
	"math"
	"math/rand/v2"
)

const (
	resumeHours   = 12  // when the heating is off and comes back, it does so within these
	resumeTau     = 3   // hours to catch up with the usual course
	unheatedShape = 0.3 // how much of the usual daily shape an unheated day keeps
)

// unheated is the course of a place whose heating stays off, from its present temperature.
func (f *Forecaster) unheated(o origin, out *curve) {
	slots := f.slotsAhead(o.at)
	fall := f.watch.course(&f.past, o.nowC)
	shapeNow := f.shape.departure.at(slots[0])
	out[0] = o.nowC
	for h := 1; h <= leads; h++ {
		lead := float64(h) - 0.5
		out[h] = fall.after(o.nowC, lead) + unheatedShape*(f.shape.departure.at(slots[h])-shapeNow)
	}
}

// resumed is the usual course after hours without heating.
func resumed(usual, unheated *curve, random *rand.Rand) (out curve) {
	back := 1 + random.IntN(resumeHours)
	behind := usual[back] - unheated[back]
	for h := range out {
		if h <= back {
			out[h] = unheated[h]
			continue
		}
		out[h] = usual[h] - behind*math.Exp(-float64(h-back)/resumeTau)
	}
	return out
}
