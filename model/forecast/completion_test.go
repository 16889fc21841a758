package forecast

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// arrhenius is the rate of a reaction with 50 kJ/mol, 1 at 23 degC.
func arrhenius(tempC float64) float64 {
	const energy, gas, zero = 50e3, 8.314462618, 273.15
	return math.Exp(-energy / gas * (1/(tempC+zero) - 1/(23+zero)))
}

func flatPaths(tempC float64) *Paths {
	p := &Paths{N: 1, TempC: make([]float64, Steps)}
	for k := range p.TempC {
		p.TempC[k] = tempC
	}
	return p
}

func TestCompletionAtConstantTemperature(t *testing.T) {
	for _, r := range table(t, "constant_shop") {
		got := flatPaths(r.num("temp_c")).Completions(Cure{16, arrhenius}, 0, nil)
		require.InDelta(t, r.num("hours"), got[0], 1e-5)
	}
}

func TestCompletionBeyondTheForecast(t *testing.T) {
	cold := flatPaths(3) // doubling: a quarter of the rate at 23 degC
	require.InDelta(t, 120, cold.Completions(Cure{30, doubling}, 0, nil)[0], 1e-9, "the last day repeats")
	require.InDelta(t, 20, cold.Completions(Cure{30, doubling}, 25, nil)[0], 1e-9, "25 of 30 h behind it")
	require.Zero(t, cold.Completions(Cure{30, doubling}, 31, nil)[0])
	still := func(float64) float64 { return 0 }
	require.True(t, math.IsInf(cold.Completions(Cure{1, still}, 0, nil)[0], 1))
	require.True(t, math.IsInf(cold.Completions(Cure{181, doubling}, 0, nil)[0], 1), "more than thirty days")
}

// Completion inverts the integral of the rate along the path, for any path.
func TestCompletionInvertsTheIntegral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &Paths{N: 1, TempC: rapid.SliceOfN(rapid.Float64Range(5, 35), Steps, Steps).Draw(t, "path")}
		linear := func(tempC float64) float64 { return tempC / 20 } // then the trapezoid is exact
		need := rapid.Float64Range(0.1, 200).Draw(t, "need")
		done := p.Completions(Cure{need, linear}, 0, nil)[0]
		const step = 1.0 / 64
		age := 0.0
		for at := 0.0; at < done; at += step {
			width := min(step, done-at)
			age += width * linear(p.TempAt(0, at+width/2))
		}
		require.InDelta(t, need, age, 0.02)
	})
}

func TestBandSaysNotBefore(t *testing.T) {
	_, ok := Band{10, 20, 30}.NotBefore()
	require.False(t, ok)
	hours, ok := Band{60, 70, 80}.NotBefore()
	require.True(t, ok)
	require.Equal(t, 60.0, hours)
	hours, ok = Band{90, 100, math.Inf(1)}.NotBefore()
	require.True(t, ok)
	require.Equal(t, 72.0, hours)
}
