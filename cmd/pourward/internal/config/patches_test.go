package config_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
)

func TestPatches(t *testing.T) {
	for written, want := range map[string]time.Duration{
		"":                              0,
		`patches: {vouch_for: "90 d"}`:  90 * 24 * time.Hour,
		`patches: {vouch_for: "365 d"}`: 365 * 24 * time.Hour,
	} {
		c, err := config.Parse("shop.yml", []byte(scaleShop+written))
		require.NoError(t, err, written)
		require.Equal(t, want, c.PatchesVouchFor, written)
	}
	for written, says := range map[string]string{
		`patches: {}`:                           `shop.yml:7:10: patches: nothing is in it; write e.g. patches: {vouch_for: "180 d"}`,
		`patches: {vouch_for: "2 h"}`:           `shop.yml:7:22: patches.vouch_for: "2 h" is outside 1 d to 365 d; write e.g. vouch_for: "180 d"`,
		`patches: {vouch_for: "366 d"}`:         `shop.yml:7:22: patches.vouch_for: "366 d" is outside 1 d to 365 d; write e.g. vouch_for: "180 d"`,
		`patches: {vouch_for: 180}`:             `shop.yml:7:22: patches.vouch_for: "180" has no unit; write e.g. vouch_for: "180 s" or "180 min"`,
		`patches: {vouch_for: "6 months"}`:      `"months" is no unit of time here`,
		`patches: {vouch_for: "9 d", for: "1"}`: "for",
	} {
		_, err := config.Parse("shop.yml", []byte(scaleShop+written))
		require.ErrorContains(t, err, says, written)
	}
}
