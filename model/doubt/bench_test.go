package doubt_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model/doubt"
)

// usual is a case of a cold bench: cup firm, patch and mold tacky, each touched before.
func usual() doubt.Case {
	return doubt.Case{
		Spread: doubt.Spread{Shared: 0.3},
		ColdK:  6,
		Checks: []doubt.Check{
			{Of: doubt.Cup, Found: doubt.Tacky, LnAge: math.Log(0.8)},
			{Of: doubt.Patch, Found: doubt.Tacky, LnAge: math.Log(0.8)},
			{Of: doubt.Cup, Found: doubt.Firm, LnAge: math.Log(1.3)},
			{Of: doubt.Patch, Found: doubt.Tacky, LnAge: math.Log(1.6)},
			{Of: doubt.Mold, Found: doubt.Tacky, LnAge: math.Log(1.5)},
		},
	}
}

func BenchmarkJudge(b *testing.B) {
	b.ReportAllocs()
	c := usual()
	for b.Loop() {
		_, err := c.Judge()
		require.NoError(b, err)
	}
}

func BenchmarkJudgeOverGap(b *testing.B) {
	b.ReportAllocs()
	c := usual()
	c.Checks[4].LnLess, c.Checks[4].LnMore = 0.2, 0.1
	for b.Loop() {
		_, err := c.Judge()
		require.NoError(b, err)
	}
}

func BenchmarkSettle(b *testing.B) {
	b.ReportAllocs()
	c := usual()
	reach := []doubt.Reachable{{Of: doubt.Cup, LnAge: 0.3}, {Of: doubt.Patch, LnAge: 0.5}, {Of: doubt.Mold, LnAge: 0.4}}
	for b.Loop() {
		_, _, err := c.Settle(reach)
		require.NoError(b, err)
	}
}

// The widest axis in use: a very cold bench with a poor probe and things known to be alike.
func BenchmarkJudgeWide(b *testing.B) {
	b.ReportAllocs()
	c := usual()
	c.Spread = doubt.Spread{Shared: 0.8, Own: [3]float64{0.05, 0.05, 0.05}}
	for b.Loop() {
		_, err := c.Judge()
		require.NoError(b, err)
	}
}
