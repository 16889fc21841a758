package dry

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// row is one line of a table under testdata, by column name.
type row map[string]string

// table reads testdata/name; every table carries a source and a status column.
func table(t *testing.T, name string) []row {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	lines, err := reader.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1, "%s has no rows", name)
	var rows []row
	for _, line := range lines[1:] {
		r := row{}
		for i, column := range lines[0] {
			r[column] = line[i]
		}
		require.NotEmpty(t, r["source"], "a check value names its source: %v", line)
		require.NotEmpty(t, r["status"])
		rows = append(rows, r)
	}
	return rows
}

// number reads a cell; an empty one is NaN.
func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	text, ok := r[column]
	require.True(t, ok, "no column %q", column)
	if text == "" {
		return math.NaN()
	}
	value, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return value
}

// class finds the class that the row names in plain words.
func (r row) class(t *testing.T) Class {
	t.Helper()
	for c := Lacquer; c <= DryingOil; c++ {
		if c.String() == r["class"] {
			return c
		}
	}
	require.Fail(t, "no such class", r["class"])
	return 0
}

// air reads air_c, humidity and surface_c.
func (r row) air(t *testing.T) Air {
	t.Helper()
	return Air{AirC: r.number(t, "air_c"), SurfaceC: r.number(t, "surface_c"), Humidity: r.number(t, "humidity")}
}

// still is air whose surface is at the air's temperature.
func still(tempC, humidity float64) Air {
	return Air{AirC: tempC, SurfaceC: math.NaN(), Humidity: humidity}
}
