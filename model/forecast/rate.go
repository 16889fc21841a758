package forecast

import "math"

const (
	rateFromC  = -40
	rateToC    = 80
	ratePerC   = 2 // table points per kelvin; a line between them errs by less than 3e-4 of a cure's rate
	ratePoints = (rateToC-rateFromC)*ratePerC + 1
)

// rateTable is a cure's rate by temperature, as plain data.
type rateTable [ratePoints]float64

func newRateTable(rate func(tempC float64) float64) (t rateTable) {
	for i := range t {
		t[i] = rate(rateFromC + float64(i)/ratePerC)
	}
	return t
}

func (t *rateTable) at(tempC float64) float64 {
	if math.IsNaN(tempC) {
		return tempC
	}
	x := min(max((tempC-rateFromC)*ratePerC, 0), ratePoints-1)
	i := min(int(x), ratePoints-2)
	return t[i] + (x-float64(i))*(t[i+1]-t[i])
}
