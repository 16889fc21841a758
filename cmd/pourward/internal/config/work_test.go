package config

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// workFile is a file with working hours as told.
func workFile(hours string) []byte {
	return []byte(strings.Replace(string(heatedFile(`{days: daily, from: "07:00", to: "18:00", at: "21 °C"}`)), "places:", "work: "+hours+"\nplaces:", 1))
}

func TestWorkingHours(t *testing.T) {
	c, err := Parse("shop.yml", workFile(`"mon-thu 08:00-17:00; sat 09:00-12:30"`))
	require.NoError(t, err)
	require.Len(t, c.Work, 2)
	require.Equal(t, 12*time.Hour+30*time.Minute, c.Work[1].To)
	require.Equal(t, "mon-thu 08:00-17:00; sat 09:00-12:30", c.Work.String())
	_, err = Parse("shop.yml", workFile(`"mon-fri 17:00-08:00"`))
	require.ErrorContains(t, err, `work: "17:00-08:00" does not end after it begins: write what goes past midnight as two; write e.g. work: "mon-fri 08:00-17:00"`)
	_, err = Parse("shop.yml", workFile(`"moonday 08:00-17:00"`))
	require.ErrorContains(t, err, `"moonday" is no day`)
}
