package forecast

import (
	"math"
	"math/rand/v2"
)

const (
	priorMemory   = 0.85 // AR(1) coefficient of a prior path's hourly increments
	youngSpreadK  = 4    // spread of an unknown shop after a day
	youngHours    = 12   // and how fast it is reached
	priorFloorK   = 1
	priorRangePer = 0.5 // of the last day's range
)

// prior draws smooth random walks whose standard deviation at each lead is known: what a forecaster with no
// errors of its own yet must allow for.
type prior struct {
	gain [leads + 1]float64 // from the raw walk to the wanted spread, by lead
}

func (f *Forecaster) priorSpread() prior {
	var p prior
	_, rangeK, _ := f.past.meanAndRange(24)
	day := priorRangePer*rangeK + priorFloorK
	young := f.past.hourSpan < 24
	for h := 1; h <= leads; h++ {
		lead := float64(h) - 0.5
		wanted := day * math.Sqrt(lead/24)
		if young {
			wanted = youngSpreadK * math.Sqrt(1-math.Exp(-lead/youngHours))
		}
		p.gain[h] = wanted / walkSpread(h)
	}
	return p
}

func (p *prior) walk(random *rand.Rand, out *curve) {
	step, sum := random.NormFloat64()/math.Sqrt(1-priorMemory*priorMemory), 0.0
	out[0] = 0
	for h := 1; h <= leads; h++ {
		sum += step
		out[h] = sum * p.gain[h]
		step = priorMemory*step + random.NormFloat64()
	}
}

// walkSpread is the standard deviation of the sum of h increments of a stationary unit AR(1):
// var = s^2 [h + 2 sum (h-k) r^k], s^2 = 1/(1-r^2).
func walkSpread(h int) float64 {
	const r = priorMemory
	n := float64(h)
	rn := math.Pow(r, n)
	cross := r/(1-r)*n - r*(1-rn)/((1-r)*(1-r))
	return math.Sqrt((n + 2*cross) / (1 - r*r))
}
