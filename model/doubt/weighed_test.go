package doubt

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Odds of 1.5 to 98.5 times ten are 15 to 98.5: 15/113.5. Odds of 0.5 to 99.5 times ten: 5/104.5. By hand.
func TestWeighedBatchesAreLikelierBad(t *testing.T) {
	p := DefaultPriors()
	off, old := p.Weighed(true, false), p.Weighed(false, true)
	require.InDelta(t, 15/113.5, off.Ratio, 1e-12)
	require.Equal(t, p.Aged, off.Aged)
	require.InDelta(t, 5/104.5, old.Aged, 1e-12)
	require.Equal(t, p, p.Weighed(false, false))
	require.Equal(t, "the ratio of the parts", off.Causes()[0])
	require.NoError(t, p.Weighed(true, true).validate())
}
