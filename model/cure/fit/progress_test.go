package fit

import (
	"encoding/csv"
	"errors"
	"io/fs"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/cure"
)

// cementCurves reads the heat of cement hydration at 20 and 40 degC (digitized COST action curves, BAMresearch
// FenicsConcrete, MIT) from the open data laid beside the repository; ok is false when that folder is absent.
func cementCurves(t *testing.T) (curves []Progress, ok bool) {
	t.Helper()
	const folder = "../../../../shared/data"
	if _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) {
		t.Logf("no open data at %s: the cement fit was not checked", folder)
		return nil, false
	}
	file, err := os.Open(folder + "/20a_cement_heat_20_40C.csv")
	require.NoError(t, err, "the data folder is there but the cement curves are not: lay the folder anew")
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err, "the cement curves are broken: lay the data folder anew")
	require.Equal(t, []string{"T_C", "time_h", "heat_J_g"}, lines[0], "the cement curves have other columns")
	for _, line := range lines[1:] {
		tempC, hours, heat := parse(t, line[0]), parse(t, line[1]), parse(t, line[2])
		if len(curves) == 0 || curves[len(curves)-1].TempC != tempC {
			curves = append(curves, Progress{TempC: tempC})
		}
		last := &curves[len(curves)-1]
		last.Seconds, last.Values = append(last.Seconds, 3600*hours), append(last.Values, heat)
	}
	require.Len(t, curves, 2, "the cement curves must be at two temperatures")
	return curves, true
}

func parse(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err, "the cement curves hold %q: lay the data folder anew", text)
	return x
}

func TestCementAtTwoTemperatures(t *testing.T) {
	curves, ok := cementCurves(t)
	if !ok {
		return
	}
	fit, err := Superpose(curves)
	require.NoError(t, err)
	t.Logf("cement: Ea %.1f +/- %.1f kJ/mol, plateau %.0f J/g, tau %.1f h, shape %.2f, rms %.1f J/g",
		fit.EaJ.Mean/1000, fit.EaJ.SD/1000, fit.Plateau, fit.TauS/3600, fit.Shape, fit.RMS)
	require.InDelta(t, 38e3, fit.EaJ.Mean, 2e3)
	require.InDelta(t, 38e3, equalHeatEaJ(t, curves), 2e3, "the mean over equal heats, without any curve shape")
}

// equalHeatEaJ is the mean activation energy between the instants at which both curves reach the same heat.
func equalHeatEaJ(t *testing.T, curves []Progress) (mean float64) {
	t.Helper()
	const lowest, highest, step = 60, 300, 20 // J/g
	levels := (highest-lowest)/step + 1
	for level := 0; level < levels; level++ {
		heat := float64(lowest + level*step)
		first := cure.Timing{TempC: curves[0].TempC, Seconds: reach(curves[0], heat)}
		second := cure.Timing{TempC: curves[1].TempC, Seconds: reach(curves[1], heat)}
		band, err := cure.EaFromTwo(first, second, 0)
		require.NoError(t, err)
		mean += band.LikelyJ / float64(levels)
	}
	return mean
}

// reach is the instant at which a curve first reaches a value, between its points.
func reach(curve Progress, value float64) float64 {
	for i := 1; i < len(curve.Values); i++ {
		low, high := curve.Values[i-1], curve.Values[i]
		if low <= value && value < high {
			return curve.Seconds[i-1] + (curve.Seconds[i]-curve.Seconds[i-1])*(value-low)/(high-low)
		}
	}
	return math.NaN()
}

func TestSuperposeFindsTheEnergyOfMadeCurves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ea := rapid.Float64Range(25e3, 90e3).Draw(t, "eaJ")
		shape := rapid.Float64Range(0.7, 2).Draw(t, "shape")
		law := cure.Arrhenius{EaJ: ea, RefC: 15, FloorC: math.Inf(-1)}
		var curves []Progress
		for _, tempC := range []float64{15, 25, 40} {
			curve := Progress{TempC: tempC}
			for hour := 0.5; hour < 60; hour *= 1.15 {
				age := hour * law.Rate(tempC)
				curve.Seconds = append(curve.Seconds, 3600*hour)
				curve.Values = append(curve.Values, 340*math.Exp(-math.Pow(12/age, shape)))
			}
			curves = append(curves, curve)
		}
		fit, err := Superpose(curves)
		require.NoError(t, err)
		require.InEpsilon(t, ea, fit.EaJ.Mean, 1e-6)
		require.InEpsilon(t, 12*3600, fit.TauS, 1e-6)
	})
}

func TestSuperposeRefusesWhatItCannotFit(t *testing.T) {
	good := Progress{TempC: 20, Seconds: []float64{1, 2, 3}, Values: []float64{1, 2, 3}}
	for name, curves := range map[string][]Progress{
		"nothing":         nil,
		"one temperature": {good, good},
		"lengths":         {good, {TempC: 40, Seconds: []float64{1}}},
		"mixing itself":   {good, {TempC: 40, Seconds: []float64{0}, Values: []float64{0}}},
		"no heat":         {{TempC: 20, Seconds: []float64{1}, Values: []float64{0}}, {TempC: 40, Seconds: []float64{1}, Values: []float64{0}}},
	} {
		_, err := Superpose(curves)
		require.ErrorContains(t, err, "superpose cure curves: ", name)
	}
}
