package heat

import (
	"fmt"
	"math"
)

// Rater is a law of cure: the rate at tempC (°C) relative to the reference.
type Rater interface {
	Rate(tempC float64) float64
}

// rateError is the relative error that a tabulated rate may have.
const rateError = 1e-9

// intervalsPerKelvin is a power of two, so that a law that starts at a whole
// number of eighths of a degree has its step between two intervals.
const intervalsPerKelvin = 8

// Rates is a law of cure made cheap to evaluate: a cubic in each eighth of a
// kelvin, within 1e-9 of the law. Outside its range, and in an interval where a
// cubic cannot follow the law, it asks the law itself. It is immutable.
type Rates struct {
	law   Rater
	lowC  float64
	cubic [][4]float64 // NaN in the first coefficient: ask the law
}

// NewRates tabulates a law from lowC to highC (°C).
func NewRates(law Rater, lowC, highC float64) (*Rates, error) {
	lowC, highC = math.Floor(lowC), math.Ceil(highC)
	if law == nil || !(highC > lowC) || !(highC-lowC <= 1000) {
		return nil, fmt.Errorf("tabulate a cure law from %g to %g °C: want a law and a range of 1 to 1000 K", lowC, highC)
	}
	r := &Rates{law: law, lowC: lowC, cubic: make([][4]float64, int(highC-lowC)*intervalsPerKelvin)}
	for i := range r.cubic {
		r.cubic[i] = r.fit(i)
	}
	return r, nil
}

// fit returns the cubic of one interval through four Chebyshev points, all
// strictly inside, so that a step at either end does not matter; a first
// coefficient of NaN where it misses the law.
func (r *Rates) fit(interval int) [4]float64 {
	at := func(share float64) float64 {
		return r.law.Rate(r.lowC + (float64(interval)+share)/intervalsPerKelvin)
	}
	var share, value [4]float64
	for k := range share {
		share[k] = (1 - math.Cos((2*float64(k)+1)*math.Pi/8)) / 2
		value[k] = at(share[k])
	}
	c := newton(share, value)
	const checks = 16
	for k := range checks {
		s := (float64(k) + 0.5) / checks
		want := at(s)
		if got := c[0] + s*(c[1]+s*(c[2]+s*c[3])); !(math.Abs(got-want) <= rateError*want) {
			return [4]float64{math.NaN()}
		}
	}
	return c
}

// newton returns the power coefficients of the cubic through four points.
func newton(x, y [4]float64) [4]float64 {
	for level := 1; level < 4; level++ {
		for i := 3; i >= level; i-- {
			y[i] = (y[i] - y[i-1]) / (x[i] - x[i-level])
		}
	}
	c := [4]float64{y[3]}
	for i := 2; i >= 0; i-- {
		for k := 3; k > 0; k-- {
			c[k] = c[k-1] - x[i]*c[k]
		}
		c[0] = y[i] - x[i]*c[0]
	}
	return c
}

// Rate returns the law's rate at tempC (°C).
func (r *Rates) Rate(tempC float64) float64 {
	x := (tempC - r.lowC) * intervalsPerKelvin
	if i := int(x); x >= 0 && uint(i) < uint(len(r.cubic)) {
		c, s := &r.cubic[i], x-float64(i)
		if v := c[0] + s*(c[1]+s*(c[2]+s*c[3])); v == v {
			return v
		}
	}
	return r.law.Rate(tempC)
}

// accrue adds to each age what its cell cured while the rate went from the one
// kept in rates to the one at tempC, and keeps the latter.
func (r *Rates) accrue(ages, rates, tempC []float64, seconds float64) {
	ages, rates = ages[:len(tempC)], rates[:len(tempC)]
	low, cubic, half := r.lowC, r.cubic, seconds/2
	for i, t := range tempC {
		x := (t - low) * intervalsPerKelvin
		k := int(x)
		v := math.NaN()
		if x >= 0 && uint(k) < uint(len(cubic)) {
			c, s := &cubic[k], x-float64(k)
			v = c[0] + s*(c[1]+s*(c[2]+s*c[3]))
		}
		if v != v {
			v = r.law.Rate(t)
		}
		ages[i] += half * (rates[i] + v)
		rates[i] = v
	}
}
