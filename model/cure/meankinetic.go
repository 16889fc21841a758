package cure

import "math"

// TempC is the inverse of Rate above the floor: the temperature in degC at which the law runs at the given rate. The rate
// age/seconds of a history gives its mean kinetic temperature. It is NaN when the rate or EaJ is not above zero.
func (a Arrhenius) TempC(rate float64) float64 {
	if !(rate > 0) || !(a.EaJ > 0) {
		return math.NaN()
	}
	return 1/(1/(a.RefC+kelvin)-math.Log(rate)*GasConstant/a.EaJ) - kelvin
}

// MeanKineticC returns the mean kinetic temperature in degC of temperatures taken at equal intervals, for an activation
// energy in J/mol: the constant temperature at which an Arrhenius process would go as far (USP <1160>). It is never below
// the arithmetic mean. NaN without temperatures or unless eaJ is above zero.
func MeanKineticC(eaJ float64, tempsC []float64) float64 {
	return meanKinetic(eaJ, tempsC, func(int) float64 { return 1 })
}

// MeanKineticStepC is MeanKineticC over unequal intervals, every temperature holding until the next instant (left step).
// Instants are in seconds, ascending, one for every temperature; the last temperature only ends the last interval.
func MeanKineticStepC(eaJ float64, seconds, tempsC []float64) float64 {
	if !ascending(seconds, tempsC) {
		return math.NaN()
	}
	last := len(seconds) - 1
	return meanKinetic(eaJ, tempsC[:last], func(i int) float64 { return seconds[i+1] - seconds[i] })
}

// MeanKineticTrapezoidC is MeanKineticC over unequal intervals by the trapezoid rule on the rate (Tong and Lock,
// 2015). Instants are in seconds, ascending, one for every temperature.
func MeanKineticTrapezoidC(eaJ float64, seconds, tempsC []float64) float64 {
	if !ascending(seconds, tempsC) {
		return math.NaN()
	}
	last := len(seconds) - 1
	return meanKinetic(eaJ, tempsC, func(i int) float64 { return (seconds[min(i+1, last)] - seconds[max(i-1, 0)]) / 2 })
}

// meanKinetic weighs the rates relative to the first temperature, so that none of them underflows.
func meanKinetic(eaJ float64, tempsC []float64, weight func(int) float64) float64 {
	if len(tempsC) == 0 {
		return math.NaN()
	}
	law := Arrhenius{EaJ: eaJ, RefC: tempsC[0], FloorC: math.Inf(-1)}
	var sum, total float64
	for i, tempC := range tempsC {
		sum += weight(i) * law.Rate(tempC)
		total += weight(i)
	}
	return law.TempC(sum / total)
}

func ascending(seconds, tempsC []float64) bool {
	if len(seconds) != len(tempsC) || len(seconds) < 2 {
		return false
	}
	for i := 1; i < len(seconds); i++ {
		if !(seconds[i] >= seconds[i-1]) {
			return false
		}
	}
	return seconds[len(seconds)-1] > seconds[0]
}
