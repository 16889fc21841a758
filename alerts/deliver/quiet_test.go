package deliver

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

// Summer time begins in the European Union on the last Sunday of March at 01:00 UTC and ends on the last Sunday of
// October at 01:00 UTC (Directive 2000/84/EC, articles 2 and 3): 29 March and 25 October in 2026. In Brussels the
// night of the change is then an hour shorter, or longer; the hours on the wall stay. Elsewhere by the tz database: Lord
// Howe changes by half an hour at 15:30 UTC on 3 October 2026 (to UTC+11) and 15:00 UTC on 4 April, Santiago at
// 04:00 UTC on 6 September (to UTC-3) and 03:00 UTC on 5 April, Kathmandu is at UTC+5:45.
func TestQuietHoursAreThoseOnTheWall(t *testing.T) {
	const brussels, lordHowe, santiago, kathmandu = "Europe/Brussels", "Australia/Lord_Howe", "America/Santiago", "Asia/Kathmandu"
	utc := func(month time.Month, day, hour, minute int) time.Time {
		return time.Date(2026, month, day, hour, minute, 0, 0, time.UTC)
	}
	for _, c := range []struct {
		what  string
		zone  string
		begin time.Time
		end   time.Time
		long  time.Duration
	}{
		{"a night in winter", brussels, utc(1, 15, 21, 0), utc(1, 16, 6, 0), 9 * time.Hour},
		{"a night in summer", brussels, utc(7, 15, 20, 0), utc(7, 16, 5, 0), 9 * time.Hour},
		{"clocks are put forward", brussels, utc(3, 28, 21, 0), utc(3, 29, 5, 0), 8 * time.Hour},
		{"clocks are put back", brussels, utc(10, 24, 20, 0), utc(10, 25, 6, 0), 10 * time.Hour},
		{"forward by half an hour", lordHowe, utc(10, 3, 11, 30), utc(10, 3, 20, 0), 8*time.Hour + 30*time.Minute},
		{"back by half an hour", lordHowe, utc(4, 4, 11, 0), utc(4, 4, 20, 30), 9*time.Hour + 30*time.Minute},
		{"forward at midnight", santiago, utc(9, 6, 2, 0), utc(9, 6, 10, 0), 8 * time.Hour},
		{"back at midnight", santiago, utc(4, 5, 1, 0), utc(4, 5, 11, 0), 10 * time.Hour},
		{"never changed", kathmandu, utc(3, 28, 16, 15), utc(3, 29, 1, 15), 9 * time.Hour},
	} {
		t.Run(c.what, func(t *testing.T) {
			night := &Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: zone(t, c.zone)}
			require.Equal(t, c.long, c.end.Sub(c.begin))
			require.False(t, night.Contains(c.begin.Add(-time.Nanosecond)))
			for at := c.begin; at.Before(c.end); at = at.Add(7 * time.Minute) {
				require.True(t, night.Contains(at), at)
			}
			require.True(t, night.Contains(c.end.Add(-time.Nanosecond)))
			require.False(t, night.Contains(c.end))
			require.Equal(t, 30*time.Second, night.change(c.end.Add(-30*time.Second), time.Minute))
			require.Equal(t, 30*time.Second, night.change(c.begin.Add(-30*time.Second), time.Minute))
			require.Equal(t, time.Minute, night.change(c.end, time.Minute))
		})
	}
}

// An hour that the wall shows twice is quiet both times; one that it leaps over has no quiet.
func TestQuietHoursWithinAChangeOfClocks(t *testing.T) {
	q := &Quiet{From: 2 * time.Hour, To: 3 * time.Hour, Zone: zone(t, "Europe/Brussels")}
	quiet := func(from time.Time) (minutes int) {
		for i := range 24 * 60 {
			if q.Contains(from.Add(time.Duration(i) * time.Minute)) {
				minutes++
			}
		}
		return minutes
	}
	require.Equal(t, 60, quiet(time.Date(2026, 1, 14, 23, 0, 0, 0, time.UTC)))
	require.Zero(t, quiet(time.Date(2026, 3, 28, 23, 0, 0, 0, time.UTC)))
	require.Equal(t, 120, quiet(time.Date(2026, 10, 24, 22, 0, 0, 0, time.UTC)))
}

func TestQuietHoursWithinADay(t *testing.T) {
	q := &Quiet{From: 12 * time.Hour, To: 13 * time.Hour, Zone: time.UTC}
	noon := time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
	require.True(t, q.Contains(noon))
	require.False(t, q.Contains(noon.Add(time.Hour)))
	require.False(t, (*Quiet)(nil).Contains(noon))
	require.Equal(t, time.Minute, (*Quiet)(nil).change(noon, time.Minute))
}
