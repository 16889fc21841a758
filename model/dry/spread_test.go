package dry

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestBands(t *testing.T) {
	for _, r := range table(t, "bands.csv") {
		sd := Coat{Class: r.class(t), Ref: time.Hour}.LnSD(still(r.number(t, "temp_c"), r.number(t, "humidity")))
		require.InDelta(t, r.number(t, "factor90"), math.Exp(1.645*sd), r.number(t, "tolerance"), "%v", r)
	}
}

func TestOilSpreadsTwice(t *testing.T) {
	a := still(13, 0.5)
	require.InDelta(t, 2*Coat{Class: Lacquer}.LnSD(a), Coat{Class: DryingOil}.LnSD(a), 1e-12)
	require.Zero(t, Coat{Class: WaitOnly}.LnSD(a))
	require.True(t, math.IsNaN(Coat{Class: WaterBorne}.LnSD(still(20, math.NaN()))))
}

// In steady air the clock of a place in the band ends where the likely time
// times exp(z·sd) says.
func TestStandardScoreIsAPlaceInTheBand(t *testing.T) {
	for _, z := range []float64{-1.2816, 1.2816} {
		for _, a := range []Air{still(14, 0.6), still(20, 0.75), still(23, 0.5)} {
			coat := Coat{Class: WaterBorne, Ref: time.Hour}
			likely, _ := coat.Remaining(Progress{}, a)
			want := likely * math.Exp(z*coat.LnSD(a))
			coat.StandardScore = z
			got, ok := coat.Remaining(Progress{}, a)
			require.True(t, ok)
			require.InEpsilon(t, want, got, 1e-12)
		}
	}
}

func TestTouchTests(t *testing.T) {
	var none TouchTests
	require.InDelta(t, 0.30, none.BaseLnSD(), 1e-12)
	require.Equal(t, 1.0, none.Factor())

	tests := none
	for range 3 {
		tests = tests.Observed(90*time.Minute, time.Hour)
	}
	require.InDelta(t, math.Pow(1.5, 0.75), tests.Factor(), 1e-12, "prior weight 1")
	require.InDelta(t, math.Sqrt(0.15*0.15+0.26*0.26/4), tests.BaseLnSD(), 5e-4)
	require.Equal(t, tests, tests.Observed(0, time.Hour))
	require.Equal(t, tests, tests.Observed(time.Hour, -1))

	coat := Coat{Class: Lacquer, Ref: time.Hour, Touch: tests}
	left, _ := coat.Remaining(Progress{}, still(23, 0.5))
	require.InDelta(t, 3600*math.Pow(1.5, 0.75), left, 1e-6)
	require.InDelta(t, tests.BaseLnSD(), coat.LnSD(still(23, 0.5)), 1e-12)
}

func TestBracketedTouchTests(t *testing.T) {
	const predicted = time.Hour
	for _, c := range []struct {
		name       string
		tacky, dry time.Duration
		observed   time.Duration // 0: says nothing
	}{
		{"looked at the next morning", 0, 14 * time.Hour, 0},
		{"wide bracket about the expected time", 30 * time.Minute, 14 * time.Hour, 0},
		{"narrow bracket", 50 * time.Minute, 72 * time.Minute, time.Hour},
		{"still tacky late, dry next morning", 4 * time.Hour, 16 * time.Hour, 8 * time.Hour},
		{"still tacky late", 3 * time.Hour, 0, 3 * time.Hour},
		{"still tacky early", 20 * time.Minute, 0, 0},
		{"dry early", 0, 40 * time.Minute, 40 * time.Minute},
		{"closed and early", 10 * time.Minute, 40 * time.Minute, 20 * time.Minute},
		{"checks out of order", 2 * time.Hour, time.Hour, 0},
		{"no checks", 0, 0, 0},
	} {
		want := TouchTests{}.Observed(c.observed, predicted)
		got := TouchTests{}.Bracketed(c.tacky, c.dry, predicted)
		require.Equal(t, want.Count, got.Count, c.name)
		require.InDelta(t, want.SumLn, got.SumLn, 1e-9, c.name)
	}
}
