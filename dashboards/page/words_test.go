package page

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
)

func cannedVoice() voice { return voice{now: thursday(), zone: berlin()} }

// plain makes non-breaking spaces plain, to compare words.
func plain(s string) string { return strings.ReplaceAll(s, nbsp, " ") }

func localInstant(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.ParseInLocation("2006-01-02T15:04", s, berlin())
	require.NoError(t, err)
	return at.UTC()
}

func TestTemperatures(t *testing.T) {
	for _, row := range rowsOf(t, "temperatures.csv") {
		tempC, err := strconv.ParseFloat(row["temp_c"], 64)
		require.NoError(t, err)
		require.Equal(t, row["celsius"], plain(voice{unit: Celsius}.temp(tempC)), row["source"])
		require.Equal(t, row["fahrenheit"], plain(voice{unit: Fahrenheit}.temp(tempC)), row["source"])
	}
	require.Equal(t, "—", voice{}.humidity(math.NaN()))
	require.Equal(t, "68 %", plain(voice{}.humidity(0.68)))
}

func TestBandsInWords(t *testing.T) {
	for _, row := range rowsOf(t, "bands.csv") {
		s := model.Step{Kind: model.StepKind(row["kind"])}
		s.Standing = model.Standing(row["standing"])
		s.Band = band(localInstant(t, row["earliest"]), localInstant(t, row["likely"]), localInstant(t, row["latest"]))
		require.Equal(t, row["words"], plain(cannedVoice().stand(s).Tail), row["source"])
	}
}

// Where nothing can be told, the words name the bound and the reason and no other time.
func TestCannotSay(t *testing.T) {
	s := model.Step{Kind: model.DemoldTime}
	s.Projection = model.Projection{Standing: model.CannotSay, NotBefore: hm(0, 21, 40), Why: []string{"probe air-1 is silent"}, Share: 0.4}
	got := cannedVoice().stand(s)
	require.Equal(t, "cannot say", got.Head)
	require.Equal(t, "Probe air-1 is silent. Not before Thu 21:40.", plain(got.Tail))

	s.NotBefore, s.Why = time.Time{}, nil
	got = cannedVoice().stand(s)
	require.Equal(t, told{Head: "cannot say", Class: "cannot"}, got)

	s.Standing, s.Band, s.Why = model.Doubtful, band(hm(0, 15, 0), hm(0, 15, 5), hm(0, 15, 9)), []string{"the cup was found tacky past its time"}
	require.NotRegexp(t, `\d`, cannedVoice().stand(s).Tail, "no projection overrides a finding")
}

// Rounding a band never makes it narrower: ready is not told too early, hurry not too late.
func TestRoundedOutward(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(1_700_000_000, 1_800_000_000).Draw(t, "earliest"), 0).UTC()
		b := model.Band{Earliest: at}
		b.Likely = at.Add(time.Duration(rapid.Int64Range(0, 400_000).Draw(t, "to likely")) * time.Second)
		b.Latest = b.Likely.Add(time.Duration(rapid.Int64Range(0, 400_000).Draw(t, "to latest")) * time.Second)
		r := rounded(b)
		require.False(t, r.Earliest.After(b.Earliest))
		require.False(t, r.Latest.Before(b.Latest))
		require.False(t, r.Likely.Before(r.Earliest))
		require.False(t, r.Likely.After(r.Latest))
	})
}

func TestInstantsInWords(t *testing.T) {
	v := cannedVoice()
	require.Equal(t, "Thu 19:40", plain(v.at(hm(0, 19, 40))))
	require.Equal(t, "Sun 08:00", plain(v.at(hm(3, 8, 0))))
	require.Equal(t, "Mon 1 Dec 08:00", plain(v.at(hm(4, 8, 0))))
	require.Equal(t, "Tue 27 Jan 2026 08:00", plain(voice{now: thursday().AddDate(-1, 0, 0), zone: berlin()}.at(hm(61, 8, 0))))

	// The clocks go back on 26 October 2025 at 03:00 (tz database): the hour that comes twice is named.
	night := voice{now: time.Date(2025, 10, 25, 20, 0, 0, 0, time.UTC), zone: berlin()}
	require.Equal(t, "Sun 02:30", plain(night.at(time.Date(2025, 10, 26, 0, 30, 0, 0, time.UTC))))
	require.Equal(t, "Sun 02:30 CET", plain(night.at(time.Date(2025, 10, 26, 1, 30, 0, 0, time.UTC))))
}

func TestSpansInWords(t *testing.T) {
	for want, d := range map[string]time.Duration{
		"less than a minute": 20 * time.Second, "1 min": time.Minute, "59 min": 59 * time.Minute, "1 h": 59*time.Minute + 40*time.Second,
		"2 h 10 min": 130 * time.Minute, "1 d": 24 * time.Hour, "2 d 3 h": 51 * time.Hour,
	} {
		require.Equal(t, want, plain(voice{}.span(d)))
	}
}
