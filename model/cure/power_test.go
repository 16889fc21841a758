package cure

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The table is checked against repeated square roots of two in 200 bits.
func TestOctaveTableIsExact(t *testing.T) {
	root := new(big.Float).SetPrec(200).SetInt64(2)
	for range 6 {
		root.Sqrt(root)
	}
	power := new(big.Float).SetPrec(200).SetInt64(1)
	for i, got := range octave {
		want, _ := power.Float64()
		require.Equal(t, want, got, "2^(%d/64)", i)
		power.Mul(power, root)
	}
}

func TestPowerMatchesExp2(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := rapid.Float64Range(-maxSteps, maxSteps).Draw(t, "steps")
		want := math.Exp2(steps / stepsPerOctave)
		require.InDelta(t, 1, power(steps)/want, 1e-13)
	})
	require.True(t, math.IsNaN(power(math.NaN())))
}
