package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// measured is the folder of measured climates that may lie beside the repository.
const measured = "../../../shared/data"

// house is a measured climate: nine rooms and the outdoor north wall, ten minutes apart (Candanedo,
// Feldheim and Deramaix, Energy and Buildings 140 (2017) 81-97).
const house = "02a_house9_10min_2016H1.csv.gz"

// A cure in a measured climate ends when the Arrhenius integral, summed here by Simpson's rule over the same
// rows, says so: 4 h at 22.5 °C, 55 kJ/mol, R as in CODATA 2018.
func TestReplayOfMeasuredClimates(t *testing.T) {
	path := filepath.Join(measured, house)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		t.Logf("the measured climates are not beside the repository (%s): nothing is replayed", measured)
		return
	}
	for _, room := range []string{"northwall", "bathroom", "parents"} {
		poured := time.Date(2016, 2, 10, 18, 10, 0, 0, time.UTC)
		want := integrated(t, path, room+"_t", poured)
		out := replayed2016(t, path, room, poured)
		found := regexp.MustCompile(`demold likely (\w+ \d+ \w+ \d\d:\d\d), nine in ten by`).FindAllStringSubmatch(out, -1)
		require.NotEmpty(t, found, out)
		told, err := time.Parse("Mon 2 Jan 15:04 2006", found[len(found)-1][1]+" 2016")
		require.NoError(t, err)
		require.WithinDuration(t, want, told, time.Minute, "%s\n%s", room, out)
	}
}

// replayed2016 is what a replay of one room tells at last.
func replayed2016(t *testing.T, path, room string, poured time.Time) string {
	t.Helper()
	marks := filepath.Join(t.TempDir(), "marks.csv")
	at := poured.Format("2006-01-02 15:04")
	require.NoError(t, os.WriteFile(marks, fmt.Appendf(nil, "at,mark,mold,material\n%s,begun,corbel,platinum-slow\n%s,mixed,corbel,\n%s,poured,corbel,\n", at, at, at), 0o644))
	var out, errs bytes.Buffer
	code := run(context.Background(), []string{"replay", "-quiet", "-temp", room + "_t", "-humidity", room + "_rh", "-marks", marks,
		"-until", poured.Add(72 * time.Hour).Format("2006-01-02 15:04"), path}, &out, &errs)
	require.Zero(t, code, errs.String())
	return out.String()
}

// integrated is when a cure that was poured at an instant is through.
func integrated(t *testing.T, path, column string, poured time.Time) time.Time {
	t.Helper()
	age, was, wasC := 0.0, poured, math.NaN()
	for _, r := range rowsOf(t, path, column) {
		if r.at.Before(poured) {
			continue
		}
		if !math.IsNaN(wasC) {
			seconds := r.at.Sub(was).Seconds()
			more := seconds / 6 * (speed(wasC) + 4*speed((wasC+r.tempC)/2) + speed(r.tempC))
			if age+more >= 4*3600 {
				return was.Add(time.Duration((4*3600 - age) / more * float64(r.at.Sub(was))))
			}
			age += more
		}
		was, wasC = r.at, r.tempC
	}
	t.Fatal("the climate ends before the cure")
	return time.Time{}
}

func speed(tempC float64) float64 {
	return math.Exp(-55e3 / 8.314462618 * (1/(tempC+273.15) - 1/(22.5+273.15)))
}

type row struct {
	at    time.Time
	tempC float64
}

func rowsOf(t *testing.T, path, column string) []row {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	all, err := csv.NewReader(z).ReadAll()
	require.NoError(t, err)
	var out []row
	for i, name := range all[0] {
		if name != column {
			continue
		}
		for _, r := range all[1:] {
			at, err := time.Parse("2006-01-02 15:04:05", r[0])
			require.NoError(t, err)
			c, err := strconv.ParseFloat(r[i], 64)
			require.NoError(t, err)
			out = append(out, row{at, c})
		}
	}
	return out
}
