package config_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
	"pourward/model/doubt"
)

func TestRates(t *testing.T) {
	c, err := config.Parse("shop.yml", []byte(scaleShop))
	require.NoError(t, err)
	require.Nil(t, c.Rates, "the built-in ones")
	c, err = config.Parse("shop.yml", []byte(scaleShop+`rates: {face: {bare: "10 %", risky_sealed: "30 %"}, ratio: "4 %", cup: "2 %"}`))
	require.NoError(t, err)
	want := doubt.DefaultPriors()
	want.Surface[doubt.Untold], want.Surface[doubt.RiskySealed], want.Ratio, want.CupAlone = 0.10, 0.30, 0.04, 0.02
	require.Equal(t, &want, c.Rates)
	for written, says := range map[string]string{
		`rates: {ratio: "0 %"}`:         `shop.yml:7:16: rates.ratio: "0 %" is outside 0.01 % to 99.99 %; write e.g. ratio: "2 %"`,
		`rates: {ratio: "100 %"}`:       `is outside 0.01 % to 99.99 %`,
		`rates: {ratio: 2}`:             `rates.ratio: "2" has no unit`,
		`rates: {face: {bear: "10 %"}}`: `bear`,
	} {
		_, err := config.Parse("shop.yml", []byte(scaleShop+written))
		require.ErrorContains(t, err, says, written)
	}
}
