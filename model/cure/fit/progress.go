package fit

import (
	"errors"
	"fmt"
	"math"

	"pourward/model/cure"
)

// Progress is one measured curve of a cure at a steady TempC (degC): a quantity that rises from zero to a plateau (heat,
// degree of cure), as values at instants in s since mixing.
type Progress struct {
	TempC           float64
	Seconds, Values []float64
}

// Superposition is the activation energy that lays curves at several temperatures over one another.
type Superposition struct {
	EaJ     Normal  // J/mol; SD takes the points as independent, which those of a smooth curve are not
	Plateau float64 // in the unit of the values
	TauS    float64 // time scale at the first curve's temperature, s
	Shape   float64 // the larger, the steeper the rise
	RMS     float64 // root mean square of what is left, in the unit of the values
}

// Superpose fits plateau*exp(-(tau/t)^shape), the three-parameter curve of Freiesleben Hansen and Pedersen (1977), to all
// curves at once. Only tau depends on temperature, by the Arrhenius law: a cure that changes its shape or its plateau with
// temperature shows in RMS. It wants curves at two or more temperatures.
func Superpose(curves []Progress) (Superposition, error) {
	points, err := gather(curves)
	if err != nil {
		return Superposition{}, fmt.Errorf("superpose cure curves: %w", err)
	}
	firstC := curves[0].TempC
	curve := func(params []float64, i int) float64 {
		law := cure.Arrhenius{EaJ: params[3] * eaUnitJ, RefC: firstC, FloorC: math.Inf(-1)}
		age := points.seconds[i] * law.Rate(points.tempsC[i])
		return math.Exp(params[0] - math.Pow(math.Exp(params[1])/age, math.Exp(params[2])))
	}
	start := []float64{math.Log(points.highest), math.Log(points.middle(firstC)), 0, guessEaJ / eaUnitJ}
	fit, err := FitCurve(curve, points.values, start)
	if err != nil {
		return Superposition{}, fmt.Errorf("superpose cure curves: %w", err)
	}
	ea := fit.Params[3]
	return Superposition{
		EaJ:     Normal{Mean: ea.Mean * eaUnitJ, SD: ea.SD * eaUnitJ},
		Plateau: math.Exp(fit.Params[0].Mean),
		TauS:    math.Exp(fit.Params[1].Mean),
		Shape:   math.Exp(fit.Params[2].Mean),
		RMS:     math.Sqrt(fit.RSS / float64(len(points.values))),
	}, nil
}

// cloud is the points of all curves.
type cloud struct {
	tempsC, seconds, values []float64
	highest                 float64
}

func gather(curves []Progress) (c cloud, err error) {
	for i, curve := range curves {
		if len(curve.Seconds) != len(curve.Values) || len(curve.Seconds) == 0 {
			return c, fmt.Errorf("curve %d has %d instants for %d values: give one for each", i+1, len(curve.Seconds), len(curve.Values))
		}
		for j, seconds := range curve.Seconds {
			if !(seconds > 0) || math.IsNaN(curve.Values[j]) {
				return c, fmt.Errorf("curve %d, point %d: give an instant after mixing and a value", i+1, j+1)
			}
			c.tempsC = append(c.tempsC, curve.TempC)
			c.highest = max(c.highest, curve.Values[j])
		}
		c.seconds = append(c.seconds, curve.Seconds...)
		c.values = append(c.values, curve.Values...)
	}
	for _, tempC := range c.tempsC {
		if tempC != c.tempsC[0] && c.highest > 0 {
			return c, nil
		}
	}
	return c, errors.New("give curves at two or more temperatures, with values above zero")
}

// middle is the first instant at tempC with at least half the highest value, a rough time scale.
func (c cloud) middle(tempC float64) float64 {
	last := 1.0
	for i, seconds := range c.seconds {
		if c.tempsC[i] != tempC {
			continue
		}
		last = seconds
		if c.values[i] >= c.highest/2 {
			break
		}
	}
	return last
}
