package config_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
)

const scaleShop = `
shop: {name: Annex, zone: Europe/Brussels}
journal: {file: shop.journal}
places: [{name: bench}]
probes:
  - {name: bench-air, place: bench, w1: {id: 28-0000072431d7}}
`

func TestScale(t *testing.T) {
	for written, want := range map[string]*config.Scale{
		"":                     nil,
		`scale: {step: "1 g"}`: {StepGrams: 1},
		`scale: {step: "0.1 g", repeatability: "0.05 g", max: "5 kg"}`: {StepGrams: 0.1, RepeatabilityGrams: 0.05, MaxGrams: 5000},
	} {
		c, err := config.Parse("shop.yml", []byte(scaleShop+written))
		require.NoError(t, err, written)
		require.Equal(t, want, c.Scale, written)
	}
	for written, says := range map[string]string{
		`scale: {max: "5 kg"}`:              `shop.yml:7:8: scale has no step; write e.g. step: "1 g"`,
		`scale: {step: "0 g"}`:              `shop.yml:7:15: scale.step: "0 g" is outside 0.000001 g to 1 kg; write e.g. step: "1 g"`,
		`scale: {step: 1}`:                  `shop.yml:7:15: scale.step: "1" has no unit; write e.g. step: "1 g" or "1 kg"`,
		`scale: {step: "1 oz"}`:             `shop.yml:7:15: scale.step: "1 oz": "oz" is no unit of weight here; write e.g. step: "1 g" or "1 kg"`,
		`scale: {step: "1 g", max: "1 g"}`:  `shop.yml:7:27: scale: the most it takes is not above its step; write e.g. step: "1 g", max: "5 kg"`,
		`scale: {step: "1 g", most: "2 g"}`: "most",
	} {
		_, err := config.Parse("shop.yml", []byte(scaleShop+written))
		require.ErrorContains(t, err, says, written)
	}
}
