package model_test

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"pourward/model"
	"pourward/model/material"
)

const (
	kelvins     = 273.15
	gasJ        = 8.314462618 // J/(mol·K), CODATA 2018
	tenth       = 1.2815515655446004
	airAloneSD  = 0.10 // of ln time, where the build of the mold is not told
	nearK, farK = 5, 10
)

// scores are the places of the band: 10, 50 and 90 %.
func scores() [3]float64 { return [3]float64{-tenth, 0, tenth} }

// quadrature integrates by Gauss and Legendre's rule of gonum over panels of at most 2 K.
type quadrature struct{ at, weight []float64 }

func newQuadrature() quadrature {
	q := quadrature{make([]float64, 16), make([]float64, 16)}
	quad.Legendre{}.FixedLocations(q.at, q.weight, -1, 1)
	return q
}

// clock is one event of a cure: te = integral of exp(-(Ea/R)(1/T - 1/Tref)) dt, the form of ASTM C1074, zero below
// the floor.
type clock struct {
	quadrature
	refS, eaJ, refC, floorC float64
}

// age is the equivalent time of a linear run of temperature, s, and its derivative by Ea.
func (c clock) age(from, to, seconds float64) (age, byEa float64) {
	from, to, seconds = c.aboveFloor(from, to, seconds)
	panels := max(1, int(math.Ceil(math.Abs(to-from)/2)))
	for i := range panels {
		for k, x := range c.at {
			share := (float64(i) + (x+1)/2) / float64(panels)
			inverse := (1/(from+(to-from)*share+kelvins) - 1/(c.refC+kelvins)) / gasJ
			w := c.weight[k] / 2 * seconds / float64(panels) * math.Exp(-c.eaJ*inverse)
			age, byEa = age+w, byEa-w*inverse
		}
	}
	return age, byEa
}

// aboveFloor is the part of a run that is not below the floor.
func (c clock) aboveFloor(from, to, seconds float64) (float64, float64, float64) {
	low, high := min(from, to), max(from, to)
	switch {
	case low >= c.floorC:
		return from, to, seconds
	case high <= c.floorC:
		return high, high, 0
	}
	return c.floorC, high, seconds * (high - c.floorC) / (high - low) // its course backwards is worth the same
}

// cured is what came of a cure.
type cured struct {
	age     float64
	crossed [3]float64 // Unix milliseconds; 0 = not yet
}

// cure goes over everything felt. What a gap may have added is bounded by its ends and 5 K beyond, or by nothing at
// all where it was longer than six hours.
func (c clock) cure(felt []span, e material.Event, of material.Material, probeK, lagSD float64) (out cured) {
	var byEa, more, less float64
	coldest, hottest := math.Inf(1), math.Inf(-1)
	for _, p := range felt {
		from, to := p.felt()
		add, slope := c.age(from, to, p.seconds())
		before := [3]float64{out.age + more, out.age, out.age - less}
		if p.gap {
			most, _ := c.age(max(from, to)+gapStrayK, max(from, to)+gapStrayK, p.seconds())
			least, _ := c.age(min(from, to)-gapStrayK, min(from, to)-gapStrayK, p.seconds())
			if p.b-p.a > longestGap {
				least = 0
			}
			more, less = more+most-add, less+add-least
		}
		needAfter := func(place int, share float64) float64 {
			age, ea := c.upTo(from, to, p.seconds(), share)
			at := from + (to-from)*share
			sd := c.spread(e, of, (byEa+ea)/max(out.age+age, math.SmallestNonzeroFloat64), probeK, lagSD, min(coldest, from, at), max(hottest, from, at))
			return c.refS * math.Exp(scores()[place]*sd)
		}
		for i, age := range [3]float64{out.age + add + more, out.age + add, out.age + add - less} {
			if out.crossed[i] == 0 && age >= needAfter(i, 1) {
				out.crossed[i] = c.when(p, i, before[i], age, needAfter)
			}
		}
		out.age, byEa = out.age+add, byEa+slope
		coldest, hottest = min(coldest, from, to), max(hottest, from, to)
	}
	return out
}

// when is the instant in a span at which a place of the band was passed, by halving. The bounds of a gap run
// evenly.
func (c clock) when(p span, place int, before, after float64, need func(place int, share float64) float64) float64 {
	low, high := 0.0, 1.0
	from, to := p.felt()
	for range 60 {
		mid := (low + high) / 2
		age := before + (after-before)*mid
		if !p.gap || place == 1 {
			add, _ := c.upTo(from, to, p.seconds(), mid)
			age = before + add
		}
		if age >= need(place, mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return float64(p.a) + high*float64(p.b-p.a)
}

// upTo is the age of the first share of a run.
func (c clock) upTo(from, to, seconds, share float64) (age, byEa float64) {
	return c.age(from, from+(to-from)*share, seconds*share)
}

// spread is the standard deviation of ln time: the parts of the documentation of cure.Spread, in quadrature.
func (c clock) spread(e material.Event, of material.Material, perEa, probeK, lagSD, coldest, hottest float64) float64 {
	refK := c.refC + kelvins
	probe := probeK * c.eaJ / (gasJ * refK * refK)
	outside := 0.0
	for _, at := range []float64{max(coldest, c.floorC), max(hottest, c.floorC)} {
		by := max(of.Known.MinC-at, at-of.Known.MaxC, 0)
		by += max(0, by-nearK)
		outside = max(outside, min(1, e.EaSDJ/gasJ*by/((at+kelvins)*(at+kelvins))))
	}
	return math.Sqrt(e.LnSD*e.LnSD + e.EaSDJ*e.EaSDJ*perEa*perEa + probe*probe + lagSD*lagSD + outside*outside)
}

// cures reckons the events of a step: a working life, a demold time, or the opening and closing of a layer window.
func (h *history) cures(w waited, q quadrature) []cured {
	events := map[model.StepKind][]material.Event{
		model.WorkingLife: {w.of.WorkingLife}, model.DemoldTime: {w.of.Demold},
		model.LayerWindow: {w.of.LayerEarliest, w.of.LayerLatest},
	}[w.kind]
	lag := airAloneSD
	if w.kind == model.WorkingLife {
		lag = 0
	}
	felt := h.spans(w.from, w.end, w.kind == model.WorkingLife)
	var out []cured
	for _, e := range events {
		c := clock{q, e.Ref.Seconds(), e.EaJ, w.of.RefC, w.of.FloorC}
		out = append(out, c.cure(felt, e, w.of, h.accuracy(w), lag))
	}
	return out
}

// accuracy is that of the worst probe the mold was felt by.
func (h *history) accuracy(w waited) float64 {
	worst := 0.0
	for _, s := range h.stays() {
		if s.to <= w.from || s.from > w.end {
			continue
		}
		place := s.air
		if s.face != "" {
			place = s.face
		}
		for _, p := range h.setup.Probes {
			if p.Place == place {
				worst = max(worst, p.AccuracyK)
				break
			}
		}
	}
	return worst
}
