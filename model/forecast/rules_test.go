package forecast

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCRPSNormal(t *testing.T) {
	for _, r := range table(t, "crps_normal") {
		require.InDelta(t, r.num("expected"), CRPSNormal(r.num("outcome"), r.num("mean"), r.num("sd")), 1e-9)
	}
	require.Equal(t, 2.0, CRPSNormal(3, 1, 0), "without spread it is the absolute error")
}

func TestCRPSEnsemble(t *testing.T) {
	kinds := map[string]func(float64, []float64) float64{"ecdf": CRPSEnsemble, "fair": CRPSFair}
	for _, r := range table(t, "crps_ensemble") {
		score := kinds[r.text("kind")]
		require.InDelta(t, r.num("expected"), score(r.num("outcome"), r.nums("members")), 1e-12, "%v", r.fields)
	}
}

func TestPinball(t *testing.T) {
	for _, r := range table(t, "pinball") {
		require.InDelta(t, r.num("expected"), Pinball(r.num("level"), r.num("forecast"), r.num("outcome")), 1e-15)
	}
}

// The CRPS is twice the integral of the pinball loss over all levels (Gneiting and Raftery 2007, section 4.2).
func TestPinballIntegratesToCRPS(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		members := rapid.SliceOfN(rapid.Float64Range(-50, 50), 1, 30).Draw(t, "members")
		y := rapid.Float64Range(-60, 60).Draw(t, "y")
		slices.Sort(members)
		const slices = 20000
		sum := 0.0
		for i := range slices {
			level := (float64(i) + 0.5) / slices
			sum += 2 * Pinball(level, members[int(level*float64(len(members)))], y) / slices
		}
		require.InDelta(t, CRPSEnsemble(y, members), sum, 0.02)
	})
}

func TestIntervalScore(t *testing.T) {
	for _, r := range table(t, "interval_score") {
		got := IntervalScore(r.num("alpha"), r.num("low"), r.num("high"), r.num("outcome"))
		require.InDelta(t, r.num("expected"), got, 1e-12)
	}
}

func TestConformalRank(t *testing.T) {
	for _, r := range table(t, "conformal_rank") {
		require.Equal(t, int(r.num("rank")), ConformalRank(int(r.num("scores")), r.num("alpha")))
	}
}

func TestQuantile(t *testing.T) {
	require.True(t, math.IsNaN(Quantile(nil, 0.5)))
	require.Equal(t, 7.0, Quantile([]float64{7}, 0.9))
	require.Equal(t, 2.5, Quantile([]float64{1, 2, 3, 4}, 0.5))
	require.Equal(t, 4.0, Quantile([]float64{1, 2, 3, 4}, 1.5))
	require.Equal(t, math.Inf(1), Quantile([]float64{1, 2, math.Inf(1)}, 1))
	require.Equal(t, 2.0, Quantile([]float64{1, 2, math.Inf(1)}, 0.5))
}
