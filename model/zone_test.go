package model

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Clocks go forward on 29 March 2026 and back on 25 October in Europe (Directive 2000/84/EC). A cure does not
// mind: what it came to is the same in every zone.
func TestSummerTimeDoesNotTouchACure(t *testing.T) {
	for _, change := range []time.Time{
		time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC), time.Date(2026, 10, 25, 1, 0, 0, 0, time.UTC),
	} {
		var shares []float64
		var bands []Band
		for _, name := range []string{"UTC", "Europe/Brussels", "Asia/Kathmandu"} {
			zone, err := time.LoadLocation(name)
			require.NoError(t, err)
			s, err := NewShop(Setup{
				Places: []string{"bench", "pattern"}, Zone: zone,
				Probes: []Probe{{Name: "air", Place: "bench", Every: time.Minute}, {Name: "skin", Place: "pattern", Every: time.Minute}},
			})
			require.NoError(t, err)
			pour := change.Add(-2 * time.Hour)
			markWork(t, s, pour, stepMarks("cure")...)
			half := steady(s, pour, 2*time.Hour, 22.5)
			shares = append(shares, lastStep(s.Outlook(half)).Share)
			bands = append(bands, lastStep(s.Outlook(steady(s, half, 6*time.Hour, 22.5))).Band)
		}
		require.InDelta(t, 0.5, shares[0], 1e-9, "two of four hours, though the clock shows three or one")
		require.Equal(t, []float64{shares[0], shares[0]}, shares[1:])
		require.Equal(t, []Band{bands[0], bands[0]}, bands[1:])
	}
}
