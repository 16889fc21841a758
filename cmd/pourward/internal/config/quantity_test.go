package config_test

import (
	"math"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/cmd/pourward/internal/config"
)

// parse reads text as the kind of quantity a table names.
func parse(kind, text string) (float64, error) {
	switch kind {
	case "temp":
		v, err := config.ParseTemp(text)
		return float64(v), err
	case "diff":
		v, err := config.ParseTempDiff(text)
		return float64(v), err
	case "percent":
		v, err := config.ParsePercent(text)
		return float64(v), err
	}
	v, err := config.ParseDuration(text)
	return v.Seconds(), err
}

func TestQuantities(t *testing.T) {
	for _, row := range table(t, "testdata/quantities.csv") {
		t.Run(row["kind"]+" "+row["text"], func(t *testing.T) {
			want, err := strconv.ParseFloat(row["value"], 64)
			require.NoError(t, err)
			got, err := parse(row["kind"], row["text"])
			require.NoError(t, err)
			require.InDelta(t, want, got, 1e-12)
		})
	}
}

func TestBadQuantities(t *testing.T) {
	for _, row := range table(t, "testdata/bad_quantities.csv") {
		t.Run(row["kind"]+" "+row["text"], func(t *testing.T) {
			_, err := parse(row["kind"], row["text"])
			require.EqualError(t, err, row["problem"])
		})
	}
}

func TestQuantitiesReadBackAsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tempC := config.TempC(rapid.Float64Range(-273.15, 1e6).Draw(t, "tempC"))
		back, err := config.ParseTemp(tempC.String())
		require.NoError(t, err)
		require.Equal(t, tempC, back)

		diff := config.DiffK(rapid.Float64Range(-1e3, 1e3).Draw(t, "diffK"))
		backDiff, err := config.ParseTempDiff(diff.String())
		require.NoError(t, err)
		require.Equal(t, diff, backDiff)

		ratio := config.Ratio(rapid.Float64Range(0, 1).Draw(t, "ratio"))
		backRatio, err := config.ParsePercent(ratio.String())
		require.NoError(t, err)
		require.InDelta(t, float64(ratio), float64(backRatio), 1e-15)

		length := time.Duration(rapid.Int64Range(int64(time.Millisecond), int64(100*365*24*time.Hour)).Draw(t, "length"))
		backLength, err := config.ParseDuration(length.String())
		require.NoError(t, err)
		require.Equal(t, length, backLength)
	})
}

func TestFahrenheitReadsBackAsTheSameTemperature(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tempC := config.TempC(rapid.Float64Range(-273, 1000).Draw(t, "tempC"))
		text := strconv.FormatFloat(tempC.In(config.Fahrenheit), 'f', -1, 64) + " °F"
		back, err := config.ParseTemp(text)
		require.NoError(t, err)
		require.InDelta(t, float64(tempC), float64(back), 1e-9)
	})
}

// A difference of two temperatures is the same whichever unit all three are written in.
func TestDifferenceAgreesWithTemperatures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.IntRange(-400, 400).Draw(t, "low °F")
		step := rapid.IntRange(0, 400).Draw(t, "step °F")
		a, err := config.ParseTemp(strconv.Itoa(low) + " °F")
		require.NoError(t, err)
		b, err := config.ParseTemp(strconv.Itoa(low+step) + " °F")
		require.NoError(t, err)
		diff, err := config.ParseTempDiff(strconv.Itoa(step) + " °F")
		require.NoError(t, err)
		require.InDelta(t, float64(b-a), float64(diff), 1e-9)
	})
}

func FuzzQuantity(f *testing.F) {
	for _, path := range []string{"testdata/quantities.csv", "testdata/bad_quantities.csv"} {
		for _, row := range table(f, path) {
			f.Add(row["text"])
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, kind := range []string{"temp", "diff", "percent", "seconds"} {
			v, err := parse(kind, text)
			if err != nil {
				require.Zero(t, v)
				require.Contains(t, err.Error(), "; write e.g. ")
				continue
			}
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%s %q gave %v", kind, text, v)
		}
	})
}
