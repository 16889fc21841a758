package plan

import (
	"testing"
	"time"
	_ "time/tzdata" // the tests do not depend on the machine's zones

	"github.com/stretchr/testify/require"
)

// Shifts are those of the clock on the wall, in zones that change at midnight, by half an hour, or not at all. The
// table has one stretch, or none, between two instants.
func TestHoursWhereClocksAreChanged(t *testing.T) {
	instant := func(s string) time.Time {
		at, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		return at
	}
	for _, r := range table(t, "changes.csv") {
		t.Run(r["zone"]+" "+r["hours"]+" "+r["to"], func(t *testing.T) {
			zone, err := time.LoadLocation(r["zone"])
			require.NoError(t, err)
			h, err := ParseHours(r["hours"])
			require.NoError(t, err)
			spans := h.Within(instant(r["from"]), instant(r["to"]), zone)
			if r["begins"] == "" {
				require.Empty(t, spans, r["source"])
				return
			}
			begins, ends := instant(r["begins"]), instant(r["ends"])
			require.Len(t, spans, 1, r["source"])
			require.Equal(t, Span{begins, ends}, Span{spans[0].From.UTC(), spans[0].To.UTC()}, r["source"])
			require.True(t, h.Open(begins, zone) && h.Open(ends, zone))
			require.False(t, h.Open(begins.Add(-time.Second), zone) || h.Open(ends.Add(time.Second), zone))
		})
	}
}
