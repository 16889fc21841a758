package doubt_test

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model/doubt"
)

// The posterior beats judging by the data-sheet time in every cold shop, and at room temperature never
// loses by more than 0.01, also where the model is wrong. It beats the rule even when the rule is told
// afterwards what its yes and its no were worth, and it beats believing the priors alone.
func TestPosteriorBeatsTheSheet(t *testing.T) {
	for _, s := range simulation() {
		told, ruled := brier(s.forecasts(posterior)), s.forecasts(rule(sheet))
		if s.climate == "22.5 C" {
			require.LessOrEqual(t, told, brier(ruled)+0.01, "%s, %s", s.climate, s.truth)
			continue
		}
		fitted := decompose(ruled)
		require.Less(t, told, brier(ruled), "%s, %s", s.climate, s.truth)
		require.Less(t, told, fitted.uncertainty-fitted.resolution, "%s, %s", s.climate, s.truth)
		require.Less(t, told, brier(s.forecasts(prior)), "%s, %s", s.climate, s.truth)
	}
}

// What the temperature is worth: the same model by the clock is worse in every cold shop, and no better by
// more than 0.002 at room temperature.
func TestTemperatureIsWorthHaving(t *testing.T) {
	for _, s := range simulation() {
		told, clock := brier(s.forecasts(posterior)), brier(s.forecasts(byClock))
		if s.climate == "22.5 C" {
			require.LessOrEqual(t, told, clock+0.002, "%s, %s", s.climate, s.truth)
			continue
		}
		require.Less(t, told, clock, "%s, %s", s.climate, s.truth)
	}
}

// Where the world is as believed, of the cases told p about p are so: each bin within 3.5 standard errors.
func TestCalibrated(t *testing.T) {
	for _, row := range calibration()[1:] {
		if row[0] != truths()[0].name {
			continue
		}
		n, told, was := float(t, row[3]), float(t, row[4]), float(t, row[5])
		require.InDelta(t, told, was, 3.5*math.Sqrt(told*(1-told)/n)+0.005, "%v", row)
	}
}

// A sound case is given up in less than one of fifty, whatever the world is like; where it is as believed,
// the verdicts keep what their thresholds promise.
func TestVerdictsKeepTheirWord(t *testing.T) {
	for _, s := range simulation() {
		sound, condemned, fine, wrongly := 0, 0, 0, 0
		for _, one := range s.sessions {
			givenUp := one.told == doubt.Inhibited || one.told == doubt.BadBatch
			if !one.wrong {
				sound++
			}
			if !one.wrong && givenUp {
				condemned++
			}
			if one.told == doubt.Fine {
				fine++
			}
			if one.told == doubt.Fine && one.wrong {
				wrongly++
			}
		}
		require.Less(t, float64(condemned), 0.02*float64(sound), "%s, %s", s.climate, s.truth)
		if s.truth == truths()[0].name {
			require.Less(t, float64(wrongly), (1-doubt.Cleared)*float64(fine), "%s, %s", s.climate, s.truth)
		}
	}
}

func float(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}
