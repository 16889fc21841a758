package config

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// heatedFile is a file with one place that is heated as told.
func heatedFile(heated string) []byte {
	return []byte(`shop: {name: Annex, zone: Europe/Brussels}
journal: {file: shop.journal}
hosts: "board.local, annex.lan"
materials: mine.yml
places:
  - name: bench
    heated: ` + heated + `
probes:
  - {name: air, place: bench, w1: {id: 28-0000075a1b2c}}
`)
}

func TestHeatedPlace(t *testing.T) {
	c, err := Parse("/etc/pourward/shop.yml", heatedFile(`{days: "mon-wed, sat", from: "07:30", to: "18:00", at: "70 °F"}`))
	require.NoError(t, err)
	h := c.Places[0].Heated
	require.Equal(t, [7]bool{time.Monday: true, time.Tuesday: true, time.Wednesday: true, time.Saturday: true}, h.Days)
	require.Equal(t, 7*time.Hour+30*time.Minute, h.From)
	require.Equal(t, 18*time.Hour, h.To)
	require.InDelta(t, 21.111, h.TempC, 1e-3, "NIST SP 811 (2008) B.8, from memory")
	require.Equal(t, []string{"board.local", "annex.lan"}, c.Hosts)
	require.Equal(t, "/etc/pourward/mine.yml", c.Materials)

	c, err = Parse("shop.yml", heatedFile(`{days: fri-mon, from: "00:00", to: "23:59", at: "19 °C"}`))
	require.NoError(t, err)
	require.Equal(t, [7]bool{time.Sunday: true, time.Monday: true, time.Friday: true, time.Saturday: true}, c.Places[0].Heated.Days, "over the end of the week")
}

func TestHeatedPlaceThatCannotBe(t *testing.T) {
	for heated, want := range map[string]string{
		`{days: "mon-fir", from: "07:00", to: "18:00", at: "21 °C"}`: `"mon-fir" is no day`,
		`{days: daily, from: "7 o'clock", to: "18:00", at: "21 °C"}`: `"7 o'clock" is no time of day`,
		`{days: daily, from: "18:00", to: "07:00", at: "21 °C"}`:     "to is not after from",
		`{days: daily, from: "07:00", to: "18:00", at: "21"}`:        "21",
		`{days: daily, from: "07:00", to: "18:00", at: "80 °C"}`:     "outside 5 °C to 35 °C",
		`{days: daily, from: "07:00", to: "18:00"}`:                  "at",
	} {
		_, err := Parse("shop.yml", heatedFile(heated))
		require.ErrorContains(t, err, want)
		require.True(t, strings.HasPrefix(err.Error(), "shop.yml:7:"), err.Error())
	}
	_, err := Parse("shop.yml", []byte(strings.Replace(string(heatedFile(`{days: daily, from: "07:00", to: "18:00", at: "21 °C"}`)), "annex.lan", "http://annex.lan", 1)))
	require.ErrorContains(t, err, "is more than a name")
}
