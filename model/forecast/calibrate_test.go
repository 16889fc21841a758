package forecast

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestACITrace(t *testing.T) {
	a := NewACI(0.1, 0.05)
	for _, r := range table(t, "aci_trace") {
		a.Update(r.num("missed") == 1)
		require.InDelta(t, r.num("alpha"), a.Alpha, 1e-12)
	}
}

// Whatever happens, the share of misses differs from the target by at most (max(a,1-a)+g)/(gT): Gibbs and Candès
// (2021), proposition 4.1. With T 1000, gamma .05 and alpha .1 that is .0190.
func TestACIBound(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	a := NewACI(0.1, 0.05)
	const rounds = 1000
	misses := 0.0
	for i := range rounds {
		spread := 1 + 3*math.Sin(float64(i)/100)*math.Sin(float64(i)/100) // drifts against a fixed unit normal band
		half := math.Inf(1)
		switch {
		case a.Alpha >= 1:
			half = 0
		case a.Alpha > 0:
			half = math.Sqrt2 * math.Erfinv(1-a.Alpha)
		}
		missed := math.Abs(random.NormFloat64()*spread) > half
		if missed {
			misses++
		}
		a.Update(missed)
	}
	require.InDelta(t, 0.1, misses/rounds, 0.0190)
}
