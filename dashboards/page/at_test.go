package page

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// rowsOf reads a table of testdata by the names of its columns.
func rowsOf(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + file)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = line[i]
		}
		require.NotEmpty(t, row["source"], "every row names its source: %v", line)
		out = append(out, row)
	}
	return out
}

func instantOf(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339Nano, s)
	require.NoError(t, err)
	return at
}

func TestParseAt(t *testing.T) {
	for _, row := range rowsOf(t, "at.csv") {
		t.Run(row["typed"]+" at "+row["now"], func(t *testing.T) {
			zone, err := time.LoadLocation(row["zone"])
			require.NoError(t, err)
			got, err := ParseAt(row["typed"], instantOf(t, row["now"]), zone)
			if part, wrong := strings.CutPrefix(row["want"], "error: "); wrong {
				require.ErrorContains(t, err, part, row["source"])
				return
			}
			require.NoError(t, err, row["source"])
			require.Equal(t, instantOf(t, row["want"]), got, row["source"])
		})
	}
}

// Every time of day that a clock showed within the last day is found again, whatever the zone does.
func TestParseAtFindsWhatTheClockShowed(t *testing.T) {
	zones := []string{"Europe/Berlin", "America/Chicago", "Australia/Lord_Howe", "Asia/Kathmandu", "America/Santiago", "America/Havana", "America/St_Johns", "Pacific/Chatham", "UTC"}
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		require.NoError(t, err)
		now := time.Unix(rapid.Int64Range(1_700_000_000, 1_800_000_000).Draw(t, "now"), 0).UTC()
		shown := now.Add(-time.Duration(rapid.Int64Range(0, 22*3600).Draw(t, "ago")) * time.Second)
		typed := shown.In(zone).Format("15:04:05")
		got, err := ParseAt(typed, now, zone)
		require.NoError(t, err)
		require.False(t, got.After(now), "%s is in the future", got)
		require.Equal(t, typed, got.In(zone).Format("15:04:05"))
		require.False(t, got.Before(shown.Add(-2*time.Hour)), "%s is not the most recent %s before %s", got, typed, now)
	})
}

func FuzzParseAt(f *testing.F) {
	for _, s := range []string{"", "19:40", "yesterday 7:40 pm", "thu 08:15", "1h20m ago", "1.5 h ago", "2025-11-27T19:40", "1985-04-12T23:20:50.52Z", "-1 h ago", "1e9 h ago", "NaN h ago"} {
		f.Add(s)
	}
	now, zone := thursday(), berlin()
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseAt(s, now, zone)
		if err != nil {
			require.True(t, got.IsZero())
			return
		}
		require.Equal(t, time.UTC, got.Location())
		if strings.HasSuffix(strings.TrimSpace(strings.ToLower(s)), "ago") {
			require.False(t, got.After(now))
		}
	})
}
