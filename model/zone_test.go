package model

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// acrossInstant pours two hours before an instant and tells how far the cure is then, and its band in the end.
func acrossInstant(t *testing.T, zone *time.Location, instant time.Time) (share float64, end Band) {
	t.Helper()
	s, err := NewShop(Setup{
		Places: []string{"bench", "pattern"}, Zone: zone,
		Probes: []Probe{{Name: "air", Place: "bench", Every: time.Minute}, {Name: "skin", Place: "pattern", Every: time.Minute}},
	})
	require.NoError(t, err)
	pour := instant.Add(-2 * time.Hour)
	markWork(t, s, pour, stepMarks("cure")...)
	half := steady(s, pour, 2*time.Hour, 22.5)
	share = lastStep(s.Outlook(half)).Share
	return share, lastStep(s.Outlook(steady(s, half, 6*time.Hour, 22.5))).Band
}

// Clocks are put forward or back: by an hour or by half of one, in the night or at midnight, north and south; and a leap
// day begins. A cure does not mind: what it came to is the same in every zone. Instants: Directive 2000/84/EC for
// Brussels, else tz database 2025b; that a clock is changed then is checked.
func TestSummerTimeDoesNotTouchACure(t *testing.T) {
	for _, c := range []struct {
		zone    string
		changes []string
	}{
		{"Europe/Brussels", []string{"2026-03-29T01:00:00Z", "2026-10-25T01:00:00Z"}},
		{"America/New_York", []string{"2026-03-08T07:00:00Z", "2026-11-01T06:00:00Z"}},
		{"America/Santiago", []string{"2026-09-06T04:00:00Z", "2026-04-05T03:00:00Z"}},
		{"Africa/Cairo", []string{"2026-04-23T22:00:00Z", "2026-10-29T21:00:00Z"}},
		{"Australia/Sydney", []string{"2026-10-03T16:00:00Z", "2026-04-04T16:00:00Z"}},
		{"Australia/Lord_Howe", []string{"2026-10-03T15:30:00Z", "2026-04-04T15:00:00Z"}},
		{"Pacific/Chatham", []string{"2026-09-26T14:00:00Z", "2026-04-04T14:00:00Z"}},
		{"Asia/Kathmandu", []string{"2028-02-28T18:15:00Z", "2028-02-29T18:15:00Z"}}, // the leap day begins and ends
	} {
		zone, err := time.LoadLocation(c.zone)
		require.NoError(t, err)
		for _, text := range c.changes {
			at, err := time.Parse(time.RFC3339, text)
			require.NoError(t, err)
			_, before := at.Add(-time.Second).In(zone).Zone()
			_, after := at.In(zone).Zone()
			require.Equal(t, c.zone == "Asia/Kathmandu", before == after, "%s %s", c.zone, text)
			share, end := acrossInstant(t, zone, at)
			require.InDelta(t, 0.5, share, 1e-9, "%s %s: two of four hours, whatever the clock shows", c.zone, text)
			plain, want := acrossInstant(t, time.UTC, at)
			require.Equal(t, plain, share)
			require.Equal(t, want, end, "%s %s", c.zone, text)
		}
	}
}
