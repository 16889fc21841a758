package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
)

// An ensemble that is far too narrow, and one far too wide, are both brought to 80 %, each tail to 10 %.
func TestCalibratorRestoresCoverage(t *testing.T) {
	for _, spread := range []float64{0.4, 2.5} {
		random := rand.New(rand.NewPCG(9, 9))
		c := NewCalibrator()
		const rounds, settle = 6000, 1000
		early, late := 0.0, 0.0
		for i := range rounds {
			members := make([]float64, 200)
			for k := range members {
				members[k] = 20 * math.Exp(0.1*spread*random.NormFloat64())
			}
			slices.Sort(members)
			band, truth := c.Band(members), 20*math.Exp(0.1*random.NormFloat64())
			if i >= settle {
				early += share(truth < band.Earliest, rounds-settle)
				late += share(truth > band.Latest, rounds-settle)
			}
			c.Learn(band, truth)
		}
		require.InDelta(t, 0.1, early, 0.02, "spread %v", spread)
		require.InDelta(t, 0.1, late, 0.02, "spread %v", spread)
	}
}

// A place that always runs late moves the late end only.
func TestCalibratorTailsAreSeparate(t *testing.T) {
	c := NewCalibrator()
	for range 20 {
		c.Learn(Band{10, 20, 30}, 40)
	}
	require.Greater(t, c.Early.Alpha, tailShare)
	require.Less(t, c.Late.Alpha, 0.05)
}

func TestTailStretchesBeyondTheEnsemble(t *testing.T) {
	c := NewCalibrator()
	sorted := []float64{10, 15, 20, 25, 30}
	c.Early.Alpha, c.Late.Alpha = 0, 0
	require.Equal(t, Band{10, 20, 30}, c.Band(sorted))
	c.Early.Alpha, c.Late.Alpha = -0.1, -0.1
	band := c.Band(sorted)
	require.Less(t, band.Earliest, 10.0)
	require.Greater(t, band.Latest, 30.0)
	require.Equal(t, math.Inf(1), (&Calibrator{}).Band([]float64{10, math.Inf(1), math.Inf(1)}).Latest)
}

// Shadow cures score themselves: over a month of an invented shop their running coverage nears 80 %, ranks spread
// over all bins and every scored cure is counted once.
func TestShadowsScoreThemselves(t *testing.T) {
	f := observeAll(New(shadowed()), shop(60, 10*60*1e9, 11))
	scores := f.Shadows()
	require.Len(t, scores, 2)
	for _, s := range scores {
		ranks := 0
		for _, n := range s.PIT {
			ranks += n
		}
		require.Equal(t, s.Scored, ranks)
		require.Greater(t, s.Scored, 60*hindcastsPerDay*3/4)
		require.InDelta(t, 0.8, s.Coverage, 0.12, "%+v", s)
		require.Less(t, s.CRPSHours, s.WidthHours)
		require.GreaterOrEqual(t, s.IntervalScoreHours, s.WidthHours)
	}
	require.Less(t, scores[0].WidthHours, scores[1].WidthHours)
}

// A gap of more than six hours makes the open shadow cures void: what the place did is not known.
func TestGapVoidsShadows(t *testing.T) {
	readings := shop(10, 10*60*1e9, 12)
	f := observeAll(New(shadowed()), readings[:8*144])
	before := f.Shadows()[1].Scored
	observeAll(f, readings[8*144+50:])
	require.Equal(t, before, f.Shadows()[1].Scored, "a 48 h cure cannot have ended since")
	whole := observeAll(New(shadowed()), readings)
	require.Greater(t, whole.Shadows()[1].Scored, before)
}

// The band of a cure between the two shadows' lengths is corrected by something between.
func TestBandMixesCalibrators(t *testing.T) {
	f := New(shadowed())
	f.shadows[0].cal.Late.Alpha, f.shadows[1].cal.Late.Alpha = 0.05, 0.15
	require.Equal(t, 0.05, f.calibratorFor(8).Late.Alpha)
	require.Equal(t, 0.15, f.calibratorFor(100).Late.Alpha)
	require.InDelta(t, 0.1, f.calibratorFor(math.Sqrt(20*48)).Late.Alpha, 1e-12)
	require.Equal(t, Band{1.2, 2, 2.8}, New(Options{}).Band([]float64{1, 2, 3}), "without shadows the plain quantiles")
}

func TestRateTableFollowsTheRate(t *testing.T) {
	table := newRateTable(arrhenius)
	for tempC := -20.0; tempC < 60; tempC += 0.1 {
		require.InEpsilon(t, arrhenius(tempC), table.at(tempC), 3e-4)
	}
	require.Equal(t, table.at(rateToC), table.at(1000))
	require.Equal(t, table.at(rateFromC), table.at(-1000))
}

func TestForecasterIsSmall(t *testing.T) {
	require.Less(t, unsafe.Sizeof(Forecaster{}), uintptr(200<<10))
	t.Logf("%d kB a place, %d kB more under a stated schedule", unsafe.Sizeof(Forecaster{})>>10, unsafe.Sizeof(statement{})>>10)
}
