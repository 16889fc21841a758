package cure

import "math"

// swingSamples over one day: the trapezoid rule converges exponentially on a periodic rate, so this is exact to rounding
// for every amplitude a building has.
const swingSamples = 256

// SwingGain returns the mean rate over a day that swings as a sine of amplitudeK (K) about meanC (degC), divided by the
// rate at meanC. It is above 1 for a law that is convex there: a swinging shop cures faster than its mean temperature
// says. With a law that has a floor inside the swing it may fall below 1.
func SwingGain(law Law, meanC, amplitudeK float64) float64 {
	var sum float64
	for i := range swingSamples {
		sum += law.Rate(meanC + amplitudeK*math.Sin(2*math.Pi*float64(i)/swingSamples))
	}
	return sum / swingSamples / law.Rate(meanC)
}
