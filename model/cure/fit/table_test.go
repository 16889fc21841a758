package fit

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model/cure"
)

// readTable reads a table by column name.
func readTable(t *testing.T, path string) []map[string]string {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows, "%s holds nothing", path)
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return x
}

// events reads one published set of event times, in hours, as isothermal checks.
func events(t *testing.T, set string) (checks []Check, times []cure.Timing) {
	t.Helper()
	for _, row := range readTable(t, "testdata/events.csv") {
		if row["set"] != set {
			continue
		}
		require.NotEmpty(t, row["source"])
		history := Steady(number(t, row["temp_C"]), number(t, row["time"]))
		check := Exactly(history)
		if row["kind"] == "censored" {
			check = StillTacky(history)
		}
		checks = append(checks, check.Times(int(number(t, row["count"]))))
		times = append(times, cure.Timing{TempC: history[0].FromC, Seconds: history[0].Seconds})
	}
	require.NotEmpty(t, checks, "no set %q", set)
	return checks, times
}
