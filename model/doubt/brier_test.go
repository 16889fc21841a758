package doubt_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// forecast is a probability that was told and whether the event came.
type forecast struct {
	p    float64
	came bool
}

func (f forecast) came01() float64 {
	if f.came {
		return 1
	}
	return 0
}

// brier is the mean squared error of forecasts.
func brier(all []forecast) float64 {
	sum := 0.0
	for _, f := range all {
		sum += (f.p - f.came01()) * (f.p - f.came01())
	}
	return sum / float64(len(all))
}

func mean(all []forecast) float64 {
	sum := 0.0
	for _, f := range all {
		sum += f.p
	}
	return sum / float64(len(all))
}

func rate(all []forecast) float64 {
	sum := 0.0
	for _, f := range all {
		sum += f.came01()
	}
	return sum / float64(len(all))
}

// bins sorts forecasts by probability into n equal parts of 0 to 1.
func bins(all []forecast, n int) [][]forecast {
	out := make([][]forecast, n)
	for _, f := range all {
		i := min(int(f.p*float64(n)), n-1)
		out[i] = append(out[i], f)
	}
	return out
}

// binned replaces every forecast by the mean of its bin.
func binned(all []forecast, n int) (out []forecast) {
	for _, bin := range bins(all, n) {
		told := mean(bin)
		for _, f := range bin {
			out = append(out, forecast{told, f.came})
		}
	}
	return out
}

// parts are those of Murphy's decomposition.
type parts struct{ reliability, resolution, uncertainty float64 }

// decompose splits the Brier score over the distinct forecasts (Murphy, J. Appl. Meteorol. 12 (1973) 595-600).
func decompose(all []forecast) (m parts) {
	base, n := rate(all), float64(len(all))
	groups := map[float64][]forecast{}
	var keys []float64
	for _, f := range all {
		if groups[f.p] == nil {
			keys = append(keys, f.p)
		}
		groups[f.p] = append(groups[f.p], f)
	}
	for _, p := range keys {
		share, was := float64(len(groups[p]))/n, rate(groups[p])
		m.reliability += share * (p - was) * (p - was)
		m.resolution += share * (was - base) * (was - base)
	}
	m.uncertainty = base * (1 - base)
	return m
}

func TestBrierScores(t *testing.T) {
	for _, r := range table(t, "brier.csv") {
		got := brier([]forecast{{r.number(t, "forecast"), r["happened"] == "true"}})
		require.InDelta(t, r.number(t, "expected"), got, 1e-12, "%v", r)
	}
}

// Murphy's identity: the score is reliability less resolution plus uncertainty.
func TestBrierDecomposition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := make([]forecast, rapid.IntRange(1, 60).Draw(t, "n"))
		for i := range all {
			all[i] = forecast{float64(rapid.IntRange(0, 10).Draw(t, "tenths")) / 10, rapid.Bool().Draw(t, "came")}
		}
		m := decompose(all)
		require.InDelta(t, brier(all), m.reliability-m.resolution+m.uncertainty, 1e-12)
	})
}
