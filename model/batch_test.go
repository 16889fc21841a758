package model

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/material"
	"pourward/model/mix"
)

// tenToOne is an invented product, 10 A to 1 B by weight within 2 %, as platinum-slow else.
func tenToOne() material.Material {
	m, _ := material.Generic().Find("platinum-slow")
	m.Name = "ten-to-one"
	m.Mixing = material.Mixing{Tolerance: 0.02, Parts: []material.Part{
		{Name: "A", Ratio: 10, GramsPerML: 1.13, JPerGramK: 1.4}, {Name: "B", Ratio: 1, GramsPerML: 1.02, JPerGramK: 1.6}}}
	m.Storage = material.Storage{ShelfLife: 365 * 24 * time.Hour, Temp: material.Window{MinC: 10, MaxC: 27}}
	m.Lots = []material.Lot{{Number: "old", Made: begin().Add(-400 * 24 * time.Hour)}, {Number: "new", Made: begin().Add(-30 * 24 * time.Hour)}}
	return m
}

// putty is an invented product that comes ready mixed.
func putty() material.Material {
	m := tenToOne()
	m.Name, m.Mixing, m.Lots = "putty", material.Mixing{}, nil
	return m
}

func TestWeightsThatCannotBe(t *testing.T) {
	all, err := NewShop(Setup{Places: []string{"bench", "shelf"}, Shelf: material.Generic().With(tenToOne(), putty())})
	require.NoError(t, err)
	require.NoError(t, all.Mark(Mark{ID: 1, Kind: Begun, Mold: "frieze", At: begin(), Place: "bench", Material: "ten-to-one"}))
	for _, c := range []struct{ of, parts, additives, from, says string }{
		{"", "A -5 g, B 1 g", "", "", `"A" cannot weigh -5 g: give more than 0, and at most 1e+06 g`},
		{"putty", "A 10 g, B 1 g", "", "", "putty comes ready mixed and has no ratio, so its parts cannot be weighed: give one weight for all of it, or write its mix into the file of materials"},
		{"", "A 10 g, C 1 g", "", "", `ten-to-one has no part "C": it has A, B`},
		{"", "A 10 g", "", "", "some parts of ten-to-one were not weighed: give the weights of A, B, or of none"},
		{"", "A 10 g, B 1 g", "b 1 g", "", `"b" is a part of ten-to-one and no additive: list it among the parts`},
		{"", "A 10 g, B 1 g", "retarder 1 g x30", "", `"retarder" cannot make times 30-fold: give 0.05 to 20`},
		{"", "A 10 g from attic, B 1 g", "", "", `there is no place "attic" for the parts to have stood: choose one of [bench shelf], or none`},
		{"", "A 10 g, B 1 g", "", "attic", `there is no place "attic" for the parts to have stood: choose one of [bench shelf], or none`},
		{"putty", "putty 500 g", "", "shelf", ""},
		{"platinum-slow", "A 10 g, B 1 g", "pigment 0.1 g", "shelf", ""},
		{"", "a 10 g from shelf, b 1 g", "retarder 1 g x1.5", "bench", ""},
	} {
		m := Mark{Kind: Mixed, Mold: "frieze", At: begin().Add(time.Minute), Material: c.of}
		m.Batch.Parts, err = ParsePortions(c.parts)
		require.NoError(t, err)
		m.Batch.Additives, err = ParsePortions(c.additives)
		require.NoError(t, err)
		m.Batch.From, m.Batch.Lot = c.from, "not in the file"
		if err := all.Accept(m); c.says == "" {
			require.NoError(t, err, c)
		} else {
			require.EqualError(t, err, c.says)
		}
	}
	early := Mark{Kind: Poured, Mold: "frieze", At: begin().Add(time.Minute)}
	require.EqualError(t, all.Accept(early), `mold "frieze": "poured" lies before anything was mixed for it: enter or correct the mixing first`)
}

func TestOffTheRatio(t *testing.T) {
	for _, c := range []struct {
		a, b, off float64
		beyond    bool
	}{
		{1000, 100, 0, false},
		{1000, 101, 0.01, false},    // 101/1000 against 1/10
		{1000, 90, 0.1, true},       // 90/1000 against 1/10
		{980, 100, 20. / 980, true}, // 100/980 against 1/10
	} {
		off, beyond, ok := Off(tenToOne(), Batch{Parts: []Portion{{Name: "b", Grams: c.b}, {Name: "A", Grams: c.a}}})
		require.True(t, ok)
		require.InDelta(t, c.off, off, 1e-12)
		require.Equal(t, c.beyond, beyond)
	}
	_, _, ok := Off(putty(), Batch{Parts: []Portion{{Name: "putty", Grams: 5}}})
	require.False(t, ok)
}

// 1000 g of A at 1.4 J/(g K) and 24 °C with 100 g of B at 1.6 J/(g K) and 9 °C: 1400 and 160 J/K, so
// (1400 x 24 + 160 x 9)/1560 = 22.4615 °C. Worked by hand.
func TestHeatBalanceOfPartsFromTwoPlaces(t *testing.T) {
	at := func(place string) float64 { return map[string]float64{"warm box": 24, "shelf": 9}[place] }
	b := Batch{From: "shelf", Parts: []Portion{{Name: "A", Grams: 1000, From: "warm box"}, {Name: "B", Grams: 100}}}
	require.InDelta(t, 22.461538461538463, mixedC(tenToOne(), b, at), 1e-12)
	require.InDelta(t, 9, mixedC(tenToOne(), Batch{From: "shelf"}, at), 1e-12)
}

func TestShares(t *testing.T) {
	got, err := ParseShares("thixotropic 1 %, slow retarder 0.5% of part B x1.5; pigment 2 % x0.9")
	require.NoError(t, err)
	require.Equal(t, []mix.Additive{{Name: "thixotropic", Share: 0.01}, {Name: "slow retarder", Share: 0.005, Of: "part B", TimeFactor: 1.5},
		{Name: "pigment", Share: 0.02, TimeFactor: 0.9}}, got)
	for _, bad := range []string{"pigment", "1 %", "pigment one %", "pigment 1 % of", "pigment 1 % B", "pigment 1 % of B xx"} {
		_, err := ParseShares(bad)
		require.ErrorContains(t, err, "cannot read the additive", bad)
	}
}

func FuzzParseShares(f *testing.F) {
	f.Add("thixotropic 1 %, retarder 0.5 % of B x1.5")
	f.Fuzz(func(t *testing.T, text string) {
		all, err := ParseShares(text)
		if err != nil {
			require.Nil(t, all)
		}
		for _, a := range all {
			require.NotEmpty(t, a.Name)
		}
	})
}
