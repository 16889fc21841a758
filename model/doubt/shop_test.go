package doubt_test

import (
	"math"
	"math/rand/v2"

	"pourward/model/doubt"
)

// The rubber of the simulation, invented: what the model believes of it.
const (
	roomC   = 22.5
	eaJ     = 55e3
	eaSDJ   = 15e3
	refSD   = 0.15
	probeK  = 0.3
	gasJ    = 8.314462618
	stepH   = 0.25 // of the integration
	roomK   = roomC + 273.15
	perKey  = eaJ / (gasJ * roomK * roomK) // of ln(age) by 1 K
	longest = 400.0                        // hours that are followed
)

// climate is the air of the bench by hours since the pour.
type climate struct {
	name string
	at   func(hours float64) float64
}

func steady(name string, tempC float64) climate {
	return climate{name, func(float64) float64 { return tempC }}
}

// night is a shop poured at five in the afternoon whose heating is off from six in the evening to six in the
// morning, day after day: it falls towards 9 degC and rises towards 20.
func night() climate {
	return climate{"heating off at night", func(hours float64) float64 {
		h := math.Mod(hours+11, 24) // since six in the morning
		const cold, warm = 9.0, 20.0
		if h < 12 {
			return warm - (warm-11)*math.Exp(-h/2)
		}
		return cold + (warm-cold)*math.Exp(-(h-12)/6)
	}}
}

func climates() []climate {
	return []climate{steady("13 C", 13), steady("16 C", 16), steady("20 C", 20), steady("22.5 C", roomC), night()}
}

// truth is how the simulated world differs from what the model believes.
type truth struct {
	name        string
	slowSD      float64 // the material needs this many refSD more than its sheet says, instead of a draw; 0 = drawn
	eaSD        float64 // its activation energy is off by this many eaSDJ, instead of a draw; 0 = drawn
	coldDoubles float64 // K; 0 = as believed
	rates       float64 // factor on the odds of every fault; 0 = 1
	otherDelays bool    // delays log-normal about 2.5 times, half of the faults never cure
	falseFirm   float64 // factor on the rate of false firm findings; 0 = 1
}

func truths() []truth {
	return []truth{
		{name: "as believed"},
		{name: "slow material", slowSD: 2},
		{name: "cold-sensitive contaminant", coldDoubles: 3},
	}
}

// misbeliefs are truths under which a prior or a number of the model is wrong.
func misbeliefs() []truth {
	return []truth{
		{name: "activation energy 1 sd higher", eaSD: 1},
		{name: "activation energy 1 sd lower", eaSD: -1},
		{name: "faults twice as frequent", rates: 2},
		{name: "faults half as frequent", rates: 0.5},
		{name: "other delays", otherDelays: true},
		{name: "false firm three times as frequent", falseFirm: 3},
	}
}

// draws are numbers of one seeded stream; the same everywhere.
type draws struct{ *rand.Rand }

func (d draws) chance(p float64) bool { return d.Float64() < p }

func (d draws) between(a, b float64) float64 { return a + (b-a)*d.Float64() }

// normal draws from N(0, 1) by the inverse distribution, so that the stream does not depend on a library.
func (d draws) normal() float64 { return math.Sqrt2 * math.Erfinv(2*d.Float64()-1) }

// batch is one simulated case and what is really true of it.
type batch struct {
	truth   truth
	climate climate
	sheetH  float64 // demold time of the data sheet
	ea      float64 // true activation energy, J/mol
	bias    float64 // of the probe, K
	surface doubt.Surface

	lnNeed   [3]float64 // by which age each thing is really firm; +Inf = never
	lnBody   [3]float64 // by which age its body is, whatever its face does
	wrong    bool       // surface or batch at fault
	actual   doubt.Hypothesis
	felt     [3]bool // which things there are
	sessions []float64
}

func (d draws) batch(c climate, w truth) batch {
	b := batch{truth: w, climate: c, sheetH: 4, bias: probeK * d.normal()}
	if d.chance(0.5) {
		b.sheetH = 16
	}
	slow := refSD * d.normal()
	if w.slowSD != 0 {
		slow = refSD * w.slowSD
	}
	b.ea = eaJ + eaSDJ*min(max(d.normal(), -2.5), 2.5)
	if w.eaSD != 0 {
		b.ea = eaJ + eaSDJ*w.eaSD
	}
	b.felt = [3]bool{doubt.Cup: d.chance(0.9), doubt.Patch: d.chance(0.5), doubt.Mold: true}
	b.surface = d.surface()
	at := b.sheetH * d.between(0.8, 1.3)
	for range 1 + d.IntN(4) {
		b.sessions = append(b.sessions, at)
		at *= d.between(1.2, 2)
	}
	d.faults(&b, slow)
	return b
}

func (d draws) surface() doubt.Surface {
	s := doubt.Surface{Prep: []doubt.Prep{doubt.Untold, doubt.Sealed, doubt.Sealed, doubt.Risky, doubt.RiskySealed}[d.IntN(5)]}
	if s.Prep != doubt.Untold && d.chance(0.3) {
		s.Patch, s.PatchColdK = doubt.Passed, d.between(0, 5)
	}
	return s
}

// odds multiplies the odds of a probability.
func odds(p, factor float64) float64 { return p * factor / (1 - p + p*factor) }

// faults draws what is wrong and when each thing will be firm.
func (d draws) faults(b *batch, slow float64) {
	p := doubt.DefaultPriors()
	w := b.truth
	if w.coldDoubles != 0 {
		p.ColdDoublesK = w.coldDoubles
	}
	believed := doubt.Case{Surface: b.surface, ColdK: b.coldK(b.sheetH), Priors: &p}
	j, err := believed.Judge()
	if err != nil {
		panic(err) // of the test itself
	}
	factor := max(w.rates, 1)
	if w.rates > 0 {
		factor = w.rates
	}
	inhibits := d.chance(odds(j.Prior.Surface()/(j.Prior.Surface()+j.Prior[doubt.NothingWrong]+j.Prior[doubt.BatchBad]), factor))
	bad := d.chance(odds(j.Prior.Batch(), factor))
	onlyCup := !bad && d.chance(p.CupAlone)
	b.actual = actual(inhibits, bad, onlyCup)
	b.wrong = bad || inhibits
	b.needs(d, slow, inhibits && !onlyCup, bad, onlyCup)
}

func actual(inhibits, bad, onlyCup bool) doubt.Hypothesis {
	switch {
	case onlyCup:
		return doubt.OnlyCup
	case bad && inhibits:
		return doubt.BothWrong
	case bad:
		return doubt.BatchBad
	case inhibits:
		return doubt.SurfaceInhibits
	}
	return doubt.NothingWrong
}

// delay draws by how much a fault holds up, in ln; +Inf = for ever.
func (b *batch) delay(d draws, never float64) float64 {
	if b.truth.otherDelays {
		if d.chance(0.5) {
			return math.Inf(1)
		}
		return math.Log(max(1.2, 2.5*math.Exp(0.5*d.normal())))
	}
	if d.chance(never) {
		return math.Inf(1)
	}
	return d.between(math.Log(2), math.Log(8))
}

func (b *batch) needs(d draws, slow float64, inhibits, bad, onlyCup bool) {
	p := doubt.DefaultPriors()
	shows := [3]float64{doubt.Patch: p.PatchShows, doubt.Mold: p.EdgeShows}
	byBatch, bySurface, byCup := b.delay(d, p.BatchNever), b.delay(d, p.SurfaceNever), b.delay(d, p.BatchNever)
	for of := range b.lnNeed {
		need := slow + doubt.OwnSD*d.normal()
		if bad {
			need += byBatch
		}
		b.lnBody[of] = need
		if shown := d.chance(shows[of]); inhibits && shown {
			need += bySurface
		}
		if onlyCup && doubt.Thing(of) == doubt.Cup {
			need += byCup
			b.lnBody[of] = need
		}
		b.lnNeed[of] = need
	}
}

// coldK is how cold the probe says it was on the mean until an hour.
func (b *batch) coldK(hours float64) float64 {
	sum, n := 0.0, 0.0
	for h := stepH / 2; h < hours; h += stepH {
		sum, n = sum+roomC-b.climate.at(h)-b.bias, n+1
	}
	return sum / n
}

// lnAge is ln(cure age/reference time) at an hour, by an activation energy and a bias of the thermometer.
func (b *batch) lnAge(hours, ea, bias float64) float64 {
	age := 0.0
	for h := 0.0; h < hours; h += stepH {
		dt := min(stepH, hours-h)
		k := b.climate.at(h+dt/2) + bias + 273.15
		age += dt * math.Exp(-ea/gasJ*(1/k-1/roomK))
	}
	return math.Log(age / b.sheetH)
}
