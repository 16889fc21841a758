package doubt_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/doubt"
)

// Information is never negative nor more than there is to learn; the outcomes' chances sum to one and their
// probabilities average to what is believed now; no age already past is asked for.
func TestSettleKeepsTheLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		now := judge(t, c)
		ages := map[doubt.Thing]float64{}
		var reach []doubt.Reachable
		for _, of := range anyThing {
			ages[of] = rapid.Float64Range(-2, 2).Draw(t, "now")
			reach = append(reach, doubt.Reachable{Of: of, LnAge: ages[of]})
		}
		n, ok, err := c.Settle(reach)
		require.NoError(t, err)
		if !ok {
			return
		}
		require.GreaterOrEqual(t, n.LnAge, ages[n.Of])
		entropy := 0.0
		for _, p := range now.P {
			if p > 0 {
				entropy -= p * math.Log2(p)
			}
		}
		require.Greater(t, n.Bits, 0.0)
		require.LessOrEqual(t, n.Bits, min(1, entropy)+1e-9) // two outcomes tell at most one bit
		require.InDelta(t, 1, n.Tacky.Chance+n.Firm.Chance, 1e-9)
		for h := range now.P {
			require.InDelta(t, now.P[h], n.Tacky.Chance*n.Tacky.P[h]+n.Firm.Chance*n.Firm.P[h], 1e-9)
		}
	})
}

// What is foretold of an outcome is what is judged once it came.
func TestSettleForetellsTheJudgement(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCase(t)
		n, ok, err := c.Settle([]doubt.Reachable{{Of: rapid.SampledFrom(anyThing).Draw(t, "thing"), LnAge: -0.5}})
		require.NoError(t, err)
		if !ok {
			return
		}
		for found, told := range map[doubt.Finding]doubt.Outlook{doubt.Tacky: n.Tacky, doubt.Firm: n.Firm} {
			after := c
			after.Checks = append(append([]doubt.Check(nil), c.Checks...), doubt.Check{Of: n.Of, Found: found, LnAge: n.LnAge})
			j := judge(t, after)
			require.Equal(t, j.Verdict, told.Verdict)
			if told.Chance < 1e-6 {
				continue // too little to keep its digits
			}
			for h := range j.P {
				require.InDelta(t, j.P[h], told.P[h], 1e-6)
			}
		}
	})
}

// The two touches a maker would think of: a mold long tacky asks for its cup; a firm cup asks for the patch.
func TestSettleAsksForTheControl(t *testing.T) {
	reach := []doubt.Reachable{{Of: doubt.Cup, LnAge: 0.9}, {Of: doubt.Patch, LnAge: 0.9}, {Of: doubt.Mold, LnAge: 0.9}}
	c := doubt.Case{Spread: doubt.Spread{Shared: 0.2}, Checks: []doubt.Check{
		{Of: doubt.Mold, Found: doubt.Tacky, LnAge: 0.9}, {Of: doubt.Patch, Found: doubt.Tacky, LnAge: 0.9},
	}}
	n, ok, err := c.Settle(reach)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, doubt.Cup, n.Of)
	require.InDelta(t, 0.9, n.LnAge, 1e-9) // at once: it is past its time
	require.Equal(t, doubt.Inhibited, n.Firm.Verdict)
	require.Equal(t, doubt.BadBatch, n.Tacky.Verdict)

	c.Checks = []doubt.Check{{Of: doubt.Cup, Found: doubt.Firm, LnAge: 0.1}}
	for i := range reach {
		reach[i].LnAge = 0.1
	}
	n, ok, err = c.Settle(reach)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, doubt.Patch, n.Of)
	require.Greater(t, n.LnAge, 0.1)
	require.Equal(t, doubt.Inhibited, n.Tacky.Verdict)
	require.Equal(t, doubt.Fine, n.Firm.Verdict)
}

// A batch given up needs no more touching, and nothing in reach leaves nothing to ask.
func TestSettleHasAnEnd(t *testing.T) {
	_, ok, err := doubt.Case{}.Settle(nil)
	require.NoError(t, err)
	require.False(t, ok)
	p := bare()
	_, ok, err = doubt.Case{Priors: &p}.Settle([]doubt.Reachable{{Of: doubt.Cup}})
	require.NoError(t, err)
	require.False(t, ok)
}
