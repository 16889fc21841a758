package model

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWeightsAsAMakerWritesThem(t *testing.T) {
	for text, want := range map[string][]Portion{
		"":                             nil,
		"A 100 g, B 10 g":              {{Name: "A", Grams: 100}, {Name: "B", Grams: 10}},
		"part A 100g; part B 9.5":      {{Name: "part A", Grams: 100}, {Name: "part B", Grams: 9.5}},
		"retarder 2 g x1.5, pigment 1": {{Name: "retarder", Grams: 2, Factor: 1.5}, {Name: "pigment", Grams: 1}},
		"A 100 g from warm box, B 10":  {{Name: "A", Grams: 100, From: "warm box"}, {Name: "B", Grams: 10}},
	} {
		got, err := ParsePortions(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for text, says := range map[string]string{
		"A":           `cannot read the weight "A": write name and grams, such as A 100 g`,
		"A much":      `cannot read the weight "A much": "much" is no number of grams: write name and grams, such as A 100 g`,
		"A 100, 10 g": `cannot read the weight "10 g": write name and grams, such as A 100 g`,
	} {
		_, err := ParsePortions(text)
		require.EqualError(t, err, says)
	}
}

func FuzzParsePortions(f *testing.F) {
	f.Add("A 100 g, B 10 g")
	f.Add("retarder 2 g x1.5")
	f.Add("A 100 g x2 from warm box")
	f.Fuzz(func(t *testing.T, text string) {
		all, err := ParsePortions(text)
		if err != nil {
			return
		}
		again, err := ParsePortions(PortionsText(all))
		if (Batch{Parts: all}).check() == nil || (Batch{Additives: all}).check() == nil {
			require.NoError(t, err)
			require.Equal(t, all, again)
		}
	})
}
