package cure

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Independent parts of a spread add as squares (JCGM 100:2008, equation 10); each alone is itself.
func TestSpreadAddsAsSquares(t *testing.T) {
	law := Arrhenius{EaJ: 50e3, RefC: 23, FloorC: math.Inf(-1)}
	known := Known{LowC: 5, HighC: 35, FloorC: -50}
	var acc Account
	law.Add(&acc, 13, 13, 3600)
	perK := 50e3 / GasConstant / (296.15 * 296.15)
	ea := (1/296.15 - 1/286.15) / GasConstant
	parts := map[float64]Spread{
		0.2:                 {LnSD: 0.2, Known: known},
		0.1:                 {LagSD: 0.1, Known: known},
		0.5 * perK:          {ProbeK: 0.5, Known: known},
		12e3 * math.Abs(ea): {EaSDJ: 12e3, Known: known},
	}
	sum := 0.0
	for want, s := range parts {
		require.InEpsilon(t, want, s.LnSDOf(law, acc, 13, 13), 1e-9)
		sum += want * want
	}
	all := Spread{LnSD: 0.2, LagSD: 0.1, ProbeK: 0.5, EaSDJ: 12e3, Known: known}
	require.InEpsilon(t, math.Sqrt(sum), all.LnSDOf(law, acc, 13, 13), 1e-9)
	all.Cov = 1e3 // Var(a - e b) = Var a + e² Var b - 2 e Cov
	require.InEpsilon(t, math.Sqrt(sum-2*ea*1e3), all.LnSDOf(law, acc, 13, 13), 1e-9)
}

func TestSpreadOutsideTheKnown(t *testing.T) {
	s := Spread{EaSDJ: 12e3, Known: Known{LowC: 15, HighC: 30, FloorC: 0}}
	require.Zero(t, s.OutsideSD(16, 29))
	require.Zero(t, s.OutsideSD(math.Inf(1), math.Inf(-1)), "nothing was felt yet")
	require.False(t, s.TooFar(math.Inf(1), math.Inf(-1)))
	require.True(t, s.TooFar(4, 20))
	rapid.Check(t, func(t *rapid.T) {
		low, by := rapid.Float64Range(-5, 20).Draw(t, "coldest"), rapid.Float64Range(0, 5).Draw(t, "colder by")
		require.GreaterOrEqual(t, s.OutsideSD(low-by, 25), s.OutsideSD(low, 25))
		require.LessOrEqual(t, s.OutsideSD(low-by, 25), 1.0)
	})
}
