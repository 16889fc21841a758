package forecast

import (
	"compress/gzip"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// measuredClimates loads the open climate records the forecaster is scored on: rooms and the north wall of a house
// (Candanedo, Feldheim and Deramaix, Energy and Buildings 140 (2017)), a second house (Zamora-Martínez et al.,
// Energy and Buildings 83 (2014)) and four community halls (HeatHack data book, CC BY-SA 4.0). Two thermally slow
// shops are the north wall behind one RC stage. They lie beside the repository, not in it; nil without them.
func measuredClimates(t *testing.T) []Series {
	t.Helper()
	dir := filepath.Join(repoRoot(t), "..", "shared", "data")
	if _, err := os.Stat(dir); err != nil {
		return nil
	}
	london, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	var out []Series
	house := readColumns(t, filepath.Join(dir, "02a_house9_10min_2016H1.csv.gz"), "time", time.DateTime)
	for _, room := range []string{"kitchen", "living", "laundry", "office", "bathroom", "ironing", "teen", "parents", "northwall"} {
		out = append(out, Series{Name: "house " + room, Readings: house[room+"_t"]})
	}
	wall := house["northwall_t"]
	out = append(out, Series{Name: "slow shop 24 h", Readings: lagged(wall, 24)}, Series{Name: "slow shop 72 h", Readings: lagged(wall, 72)})
	second := readColumns(t, filepath.Join(dir, "03a_house2_15min_2012-03.csv.gz"), "time", "2006-01-02 15:04")
	for _, room := range []string{"dining", "room", "outdoor"} {
		out = append(out, Series{Name: "second " + room, Readings: second[room+"_t"]})
	}
	for _, hall := range []string{"A", "B", "C", "D"} {
		raw := readColumns(t, filepath.Join(dir, "04_hall"+hall+"_5min.csv.gz"), "time_utc", time.RFC3339)["temp_c"]
		out = append(out, Series{Name: "hall " + hall, Zone: london, Readings: sane(raw)})
	}
	return out
}

func repoRoot(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	require.NoError(t, err)
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		require.NotEqual(t, filepath.Dir(dir), dir, "no go.mod above the test")
		dir = filepath.Dir(dir)
	}
}

// readColumns reads every numeric column of a gzipped CSV file against its time column.
func readColumns(t *testing.T, path, timeColumn, layout string) map[string][]Reading {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	rows, err := csv.NewReader(z).ReadAll()
	require.NoError(t, err)
	when := slices.Index(rows[0], timeColumn)
	out := map[string][]Reading{}
	for _, row := range rows[1:] {
		at, err := time.Parse(layout, row[when])
		require.NoError(t, err)
		for i, field := range row {
			if v, err := strconv.ParseFloat(field, 64); err == nil && i != when {
				out[rows[0][i]] = append(out[rows[0][i]], Reading{at, v})
			}
		}
	}
	return out
}

// sane drops what a daemon's quality tests would: values outside a gross range, and single readings more than 3 K
// off both neighbors that agree with each other.
func sane(raw []Reading) (out []Reading) {
	for i, r := range raw {
		if r.TempC < -40 || r.TempC > 80 {
			continue
		}
		if len(out) > 0 && i+1 < len(raw) {
			before, after := out[len(out)-1].TempC, raw[i+1].TempC
			if math.Abs(r.TempC-before) > 3 && math.Abs(r.TempC-after) > 3 && math.Abs(after-before) < 3 {
				continue
			}
		}
		out = append(out, r)
	}
	return out
}

// lagged passes a record through one RC stage: a shop whose walls follow the outdoors.
func lagged(in []Reading, tauHours float64) []Reading {
	out := slices.Clone(in)
	for i := 1; i < len(out); i++ {
		hours := in[i].At.Sub(in[i-1].At).Hours()
		out[i].TempC = out[i-1].TempC + (in[i].TempC-out[i-1].TempC)*(1-math.Exp(-hours/tauHours))
	}
	return out
}
