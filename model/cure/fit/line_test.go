package fit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/cure"
)

// Six published event times (Yang, Life Cycle Reliability Engineering (2007), example 7.1); the regression was computed by
// hand: ln t = -2.667493 + 3757.5402/T.
func TestLineThroughSixTimes(t *testing.T) {
	_, times := events(t, "yang")
	line, err := FitLine(times)
	require.NoError(t, err)
	require.InEpsilon(t, 3757.5402, line.EaJ.Mean/cure.GasConstant, 1e-4)
	require.InEpsilon(t, 278.903, line.EaJ.SD/cure.GasConstant, 1e-4)
	require.InEpsilon(t, 31.2419e3, line.EaJ.Mean, 1e-4)
	require.InEpsilon(t, 2.3189e3, line.EaJ.SD, 1e-4)
	require.InEpsilon(t, 0.0602043, line.S, 1e-4)
	require.Equal(t, 4, line.DF)
	intercept := line.LnSeconds(0).Mean - line.EaJ.Mean/cure.GasConstant/kelvin
	require.InEpsilon(t, -2.667493, intercept, 1e-4)

	low, high := line.EaInterval(0.95)
	require.InDelta(t, 24.80e3, low, 10)
	require.InDelta(t, 37.68e3, high, 10)
	early, likely, late := line.Predict(70, 0.95)
	require.InEpsilon(t, 3954.6, likely, 1e-4)
	require.InDelta(t, 3066, early, 1)
	require.InDelta(t, 5100, late, 1)

	// The normal-normal rule on a class prior of 55 +/- 15 kJ/mol, computed by hand.
	updated := Normal{Mean: 55e3, SD: 15e3}.Update(line.EaJ)
	require.InDelta(t, 31.7965e3, updated.Mean, 1)
	require.InDelta(t, 2.2917e3, updated.SD, 1)
}

func TestLineRefusesTooLittle(t *testing.T) {
	at := func(tempC, seconds float64) cure.Timing { return cure.Timing{TempC: tempC, Seconds: seconds} }
	for name, times := range map[string][]cure.Timing{
		"two times":       {at(20, 1), at(30, 2)},
		"one temperature": {at(20, 1), at(20, 2), at(20, 3)},
		"no time":         {at(20, 1), at(30, 0), at(40, 1)},
		"no temperature":  {at(20, 1), at(math.NaN(), 1), at(40, 1)},
	} {
		_, err := FitLine(times)
		require.ErrorContains(t, err, "fit line: ", name)
	}
}

// 60 min at 23 degC and 30 min at 33 degC give 52.25 kJ/mol, and +/-10 % each, in quadrature, 10.6 of them: 15.15/ln(1.1/0.9)
// is 75.4 kJ/mol for each unit of ln(t1/t2), times 0.1*sqrt(2).
func TestFromTwoCarriesTheErrorOfTheTimes(t *testing.T) {
	got, err := FromTwo(cure.Timing{TempC: 23, Seconds: 3600}, cure.Timing{TempC: 33, Seconds: 1800}, 0.1)
	require.NoError(t, err)
	require.InDelta(t, 52.2523e3, got.Mean, 1)
	require.InDelta(t, 10.66e3, got.SD, 10)
	_, err = FromTwo(cure.Timing{TempC: 23, Seconds: 3600}, cure.Timing{TempC: 23, Seconds: 1800}, 0.1)
	require.ErrorContains(t, err, "two different temperatures")
}

func TestUpdateWeighsByPrecision(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sd := rapid.Float64Range(0, 10)
		a := Normal{rapid.Float64Range(-5, 5).Draw(t, "a"), sd.Draw(t, "sdA")}
		b := Normal{rapid.Float64Range(-5, 5).Draw(t, "b"), sd.Draw(t, "sdB")}
		ab, ba := a.Update(b), b.Update(a)
		require.InDelta(t, ab.Mean, ba.Mean, 1e-9)
		require.LessOrEqual(t, ab.SD, min(a.SD, b.SD)+1e-12)
		require.GreaterOrEqual(t, ab.Mean, min(a.Mean, b.Mean)-1e-9)
		require.LessOrEqual(t, ab.Mean, max(a.Mean, b.Mean)+1e-9)
		require.Equal(t, a, a.Update(Unknown()))
		require.Equal(t, a, Unknown().Update(a))
	})
}

// firstOrderPeakC is where a first-order reaction of 120 kJ/mol and A = e^35 1/s peaks when heated at a constant rate:
// rate*E/(R*T^2) = A*exp(-E/(R*T)).
func firstOrderPeakC(kelvinPerMinute float64) float64 {
	const energy, lnA = 120e3 / cure.GasConstant, 35
	low, high := 250.0, 500.0
	for range 80 {
		middle := (low + high) / 2
		if math.Log(kelvinPerMinute/60*energy)-2*math.Log(middle) > lnA-energy/middle {
			low = middle
		} else {
			high = middle
		}
	}
	return low - kelvin
}

func TestKissingerIsExactForFirstOrder(t *testing.T) {
	// Peaks in K for the parameter set in the documentation of takos, computed by hand.
	peaks := map[float64]float64{0.5: 344.501, 1: 350.027, 2: 355.728, 5: 363.548, 10: 369.691, 20: 376.040, 50: 384.765}
	var scans []Scan
	for rate, peakK := range peaks {
		require.InDelta(t, peakK-kelvin, firstOrderPeakC(rate), 1e-3)
		scans = append(scans, Scan{KelvinPerMinute: rate, PeakC: firstOrderPeakC(rate)})
	}
	kissinger, err := Kissinger(scans)
	require.NoError(t, err)
	require.InDelta(t, 120.000e3, kissinger.Mean, 1)
	ozawa, err := Ozawa(scans)
	require.NoError(t, err)
	require.InDelta(t, 119.815e3, ozawa.Mean, 1)

	_, err = Kissinger(scans[:2])
	require.ErrorContains(t, err, "at least three")
	_, err = Ozawa([]Scan{{0, 20}, {1, 20}, {2, 20}})
	require.ErrorContains(t, err, "scan 1")
}
