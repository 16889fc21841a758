package page

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
)

// A mark as it would be typed is that mark again: else a correction would lose what was told.
func TestWhatIsTypedAgainSaysTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		amount := rapid.Map(rapid.IntRange(0, 100_000), func(n int) float64 { return float64(n) / 10 })
		portions := func(what string) []model.Portion {
			return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) model.Portion {
				return model.Portion{
					Name:   rapid.StringMatching(`[A-Za-z]{1,6}( [a-z]{2,8}){0,2}`).Draw(t, "name"),
					Grams:  amount.Draw(t, "grams"),
					Factor: float64(rapid.IntRange(0, 40).Draw(t, "factor")) / 8,
				}
			}), 0, 4).Draw(t, what)
		}
		m := model.Mark{
			Design: model.Design{
				Method: rapid.SampledFrom(append(model.Methods(), "")).Draw(t, "method"),
				Coats:  rapid.IntRange(0, 9).Draw(t, "coats"), Layers: rapid.IntRange(0, 9).Draw(t, "layers"),
				LayerMM: amount.Draw(t, "layer"), LengthMM: amount.Draw(t, "length"), WidthMM: amount.Draw(t, "width"),
				DepthMM: amount.Draw(t, "depth"), PatternML: amount.Draw(t, "pattern"), AreaCM2: amount.Draw(t, "area"),
			},
			Face:   rapid.StringMatching(`([a-z][a-z ]{0,20}[a-z])?`).Draw(t, "face"),
			Prep:   rapid.SliceOfN(rapid.StringMatching(`[a-z][a-z-]{0,10}[a-z]`), 0, 4).Draw(t, "prep"),
			Batch:  model.Batch{Parts: portions("parts"), Additives: portions("additives"), Lot: "SR-0301", From: "shelf"},
			FilmUM: amount.Draw(t, "film"),
		}
		for _, list := range []*[]model.Portion{&m.Batch.Parts, &m.Batch.Additives} {
			if len(*list) == 0 {
				*list = nil
			}
		}
		if len(m.Prep) == 0 {
			m.Prep = nil
		}
		var again model.Mark
		require.NoError(t, workedOf(m).work(&again))
		require.Equal(t, m, again)
	})
}
