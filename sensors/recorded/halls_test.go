package recorded_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors/recorded"
)

// measured is where the open records are that the project is scored on.
const measured = "../../../shared/data"

// Four community halls (HeatHack data book, CC BY-SA 4.0), a year of cheap probes with all their
// faults, labelled by rule: every value out of range must be refused, and hardly anything else.
func TestFaultsInHallRecords(t *testing.T) {
	if _, err := os.Stat(measured); err != nil {
		t.Logf("the open records are not at %s: nothing was checked", measured)
		return
	}
	for _, hall := range []string{"A", "B", "C", "D"} {
		file := "04_hall" + hall + "_5min.csv.gz"
		temps, all := labels(t, file)
		got, s, err := run(t, recorded.Options{
			Path: filepath.Join(measured, file), TimeColumn: "time_utc", TimeLayout: time.RFC3339,
			TempUnit: recorded.Celsius, HumidityUnit: recorded.Percent,
			Probes: []recorded.Probe{{Name: hall, TempColumn: "temp_c", HumidityColumn: "rh_pct"}},
		})
		require.NoError(t, err)
		require.Zero(t, s.Skipped())
		refused, doubted := 0, 0
		for _, r := range got {
			at := r.At.Format(time.RFC3339)
			if temps[at] {
				require.False(t, r.Temp.OK(), "hall %s, %s: %g °C", hall, at, r.Temp.Value)
				refused++
			}
			if !all[at] && !(r.Temp.OK() && r.Humidity.OK()) {
				doubted++
			}
		}
		require.Equal(t, len(temps), refused)
		require.Less(t, float64(doubted), 0.001*float64(len(got)), "hall %s", hall)
		t.Logf("hall %s: %d readings, all %d temperatures out of range refused, %d others doubted", hall, len(got), refused, doubted)
	}
}

// labels returns the instants of a file at which the temperature is out of range, and those with any
// fault.
func labels(t *testing.T, file string) (temps, all map[string]bool) {
	temps, all = map[string]bool{}, map[string]bool{}
	for _, row := range table(t, filepath.Join(measured, "labels.csv")) {
		if row["file"] != file || row["kind"] == "gap" {
			continue
		}
		all[row["from"]] = true
		if strings.Contains(row["kind"], "temp_out_of_range") {
			temps[row["from"]] = true
		}
	}
	return temps, all
}
