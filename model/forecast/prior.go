package forecast

import (
	"math"
	"math/rand/v2"
)

const (
	priorMemory = 0.85 // AR(1) coefficient of a prior path's hourly increments
	// priorDays of hindcasts weigh as much as the prior. A week of them holds only about three independent errors
	// two days ahead, and fewer in a heavy building.
	priorDays = 5

	priorFloorK   = 1   // spread after a day: this,
	priorPerRange = 0.5 // and half the range of the last day
	youngSpreadK  = 4   // spread of an unknown shop after a day,
	youngHours    = 12  // and how fast it is reached
	youngSwingK   = 2   // scale of an unknown shop's daily swing, unless it has swung further already

	warmestHour = 15  // rooms follow the afternoon; common practice, no source
	swingShare  = 0.3 // of the last day's range: how far the learned daily shape may still be off
)

// prior draws the errors a forecaster must allow for before it has made any of its own: a smooth random walk of
// known spread at each lead, plus a day that swings other than expected.
type prior struct {
	gain     curve   // from the raw walk to the wanted spread, by lead
	swing    curve   // one kelvin of daily swing not foreseen, by lead
	swingK   float64 // scale of the swing
	oneSided bool    // the swing has the sun's sign: nothing is known of this place's day yet
}

func (f *Forecaster) learnPrior(origin float64) (p prior) {
	_, rangeK, known := f.past.meanAndRange(24)
	young := known < 20 // a day with a few hours missing will do
	p.oneSided, p.swingK = young, swingShare*rangeK
	if young {
		p.swingK = max(youngSwingK, f.past.binRange())
	}
	phase := slotAt(origin, f.past.zone).clock() - warmestHour
	for h := 1; h <= leads; h++ {
		lead := float64(h) - 0.5
		spread := (priorPerRange*rangeK + priorFloorK) * math.Sqrt(lead/24)
		if young {
			spread = youngSpreadK * math.Sqrt(1-math.Exp(-lead/youngHours))
		}
		p.gain[h] = spread / walkSpread(h)
		p.swing[h] = daily(phase) - daily(phase+lead)
	}
	return p
}

func daily(hours float64) float64 { return math.Cos(hours * 2 * math.Pi / 24) }

// walk draws one error path.
func (p *prior) walk(random *rand.Rand, out *curve) {
	swingK := p.swingK * random.NormFloat64()
	if p.oneSided {
		swingK = math.Abs(swingK)
	}
	step, sum := random.NormFloat64()/math.Sqrt(1-priorMemory*priorMemory), 0.0
	out[0] = 0
	for h := 1; h <= leads; h++ {
		sum += step
		out[h] = sum*p.gain[h] + swingK*p.swing[h]
		step = priorMemory*step + random.NormFloat64()
	}
}

// walkSpread is the standard deviation of the sum of h increments of a stationary AR(1) with unit noise:
// var = s2 [h + 2 sum over k<h of (h-k) r^k], s2 = 1/(1-r2).
func walkSpread(h int) float64 {
	const r = priorMemory
	n := float64(h)
	cross := r/(1-r)*n - r*(1-math.Pow(r, n))/((1-r)*(1-r))
	return math.Sqrt((n + 2*cross) / (1 - r*r))
}
