package heat

import (
	"fmt"
	"math"
)

// Reaction is the heat a layer gives off as it sets, first order in what is
// left. The zero value gives off none, which is right for condensation-cure
// silicone and nearly so for the addition-cure kind (an unsourced 5 to 13 J/g).
// A plaster shell poured over fresh rubber is the strongest heater in the shop:
// 118 to 132 J per gram of hemihydrate, from enthalpies of formation.
type Reaction struct {
	HeatJKg float64 // J per kg of layer, for full conversion
	Seconds float64 // time constant at rate 1
	Law     Rater   // nil = the same rate at every temperature, as plaster sets between 0 and 40 °C (Ridge, Nature 184 (1959) 47)
}

// check refuses a reaction without a time.
func (r Reaction) check() error {
	if r.HeatJKg == 0 {
		return nil
	}
	if !finite(r.HeatJKg, r.Seconds) || r.Seconds <= 0 {
		return fmt.Errorf("a reaction of %g J/kg needs a time constant above 0, got %g s", r.HeatJKg, r.Seconds)
	}
	return nil
}

// convert moves one cell's conversion on by seconds at tempC and returns how much it rose.
func (r Reaction) convert(done *float64, tempC, seconds float64) float64 {
	rate := 1.0
	if r.Law != nil {
		rate = r.Law.Rate(tempC)
	}
	rise := (1 - *done) * -math.Expm1(-rate*seconds/r.Seconds)
	*done += rise
	return rise
}

// react adds to sources (W) the heat of every reacting layer over a step. The
// rate is that at the old temperature, so the step stays linear; the heat is
// that of the conversion really made, so no energy is lost or invented.
func (b *Body) react(sources, conversion, tempC []float64, seconds float64) {
	for layer, l := range b.build.Layers {
		if l.Reaction.HeatJKg == 0 {
			continue
		}
		for i := b.first[layer]; i < b.first[layer+1]; i++ {
			joule := b.heat[i] / l.Material.HeatJ * l.Reaction.HeatJKg
			sources[i] += joule * l.Reaction.convert(&conversion[i], tempC[i], seconds) / seconds
		}
	}
}

// reacts reports whether any layer gives off heat.
func (b *Body) reacts() bool {
	for _, l := range b.build.Layers {
		if l.Reaction.HeatJKg != 0 {
			return true
		}
	}
	return false
}
