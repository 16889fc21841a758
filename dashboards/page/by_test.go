package page

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestParseBy(t *testing.T) {
	for _, r := range rowsOf(t, "by.csv") {
		zone, err := time.LoadLocation(r["zone"])
		require.NoError(t, err)
		got, err := ParseBy(r["typed"], instantOf(t, r["now"]), zone)
		if want, e := time.Parse(time.RFC3339, r["want"]); e == nil {
			require.NoError(t, err, r["typed"])
			require.Equal(t, want, got, r["typed"])
			continue
		}
		require.ErrorContains(t, err, r["want"], r["typed"])
	}
}

func FuzzParseBy(f *testing.F) {
	for _, s := range []string{"Fri 17:00", "tomorrow 9:00", "in 3 h", "2025-11-28 17:00", "24:00"} {
		f.Add(s)
	}
	now := thursday()
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseBy(s, now, berlin())
		if err == nil {
			require.Equal(t, time.UTC, got.Location())
		}
	})
}
