package cure

import (
	"math"
	"testing"
	"time"
)

// readingsAYear is one reading every 10 s.
const readingsAYear = 365 * 8640

// annexYear is a made-up year of readings: a daily swing with a little noise.
func annexYear() []float64 {
	temps := make([]float64, readingsAYear)
	for i := range temps {
		temps[i] = 18 + 6*math.Sin(2*math.Pi*float64(i)/8640) + 0.02*math.Sin(1.7*float64(i))
	}
	return temps
}

// BenchmarkYear integrates a year of readings beside a bare loop of one math.Exp per reading, in turns, and reports the
// ratio of their best times as x-bare-exp (goal: at most 1.5) and of ours to the left-step rule as x-left-step.
func BenchmarkYear(b *testing.B) {
	temps := annexYear()
	law := Arrhenius{EaJ: 50e3, RefC: 23, FloorC: 5}
	loops := []func() float64{
		func() (sum float64) {
			for _, x := range temps {
				sum += math.Exp(x)
			}
			return sum
		},
		func() (sum float64) {
			ref, k := law.EaJ/GasConstant/(law.RefC+kelvin), law.EaJ/GasConstant
			for _, tempC := range temps {
				sum += 10 * math.Exp(ref-k/(tempC+kelvin))
			}
			return sum
		},
		func() float64 {
			var acc Account
			for i := 1; i < len(temps); i++ {
				law.Add(&acc, temps[i-1], temps[i], 10)
			}
			return acc.Age + acc.DEa
		},
	}
	best := []time.Duration{math.MaxInt64, math.MaxInt64, math.MaxInt64}
	b.ReportAllocs()
	for b.Loop() {
		for i, loop := range loops {
			start := time.Now()
			benchSink = loop()
			best[i] = min(best[i], time.Since(start))
		}
	}
	b.ReportMetric(float64(best[2])/float64(best[0]), "x-bare-exp")
	b.ReportMetric(float64(best[2])/float64(best[1]), "x-left-step")
	b.ReportMetric(float64(best[2])/readingsAYear, "ns/reading")
}

var benchSink float64

// BenchmarkBigStep is the dearest common case: a step of 15 K an hour, as in a warm box that switches on.
func BenchmarkBigStep(b *testing.B) {
	law := Arrhenius{EaJ: 50e3, RefC: 23, FloorC: 5}
	b.ReportAllocs()
	for b.Loop() {
		benchSink = law.Age(15, 30, 3600)
	}
}
