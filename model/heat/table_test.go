package heat

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
func table(t testing.TB, name string) []row {
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

// number reads a cell.
func (r row) number(t testing.TB, column string) float64 {
	t.Helper()
	value, err := strconv.ParseFloat(r[column], 64)
	require.NoError(t, err, "%s of %v", column, r)
	return value
}

// arrhenius is a law of cure for tests: activation energy in J/mol, rate 1 at 23 °C.
type arrhenius float64

func (a arrhenius) Rate(tempC float64) float64 {
	return math.Exp(-float64(a) / 8.314462618 * (1/(tempC+273.15) - 1/296.15))
}

// tabulated is a law ready for use.
func tabulated(t testing.TB, law Rater) *Rates {
	t.Helper()
	rates, err := NewRates(law, -20, 80)
	require.NoError(t, err)
	return rates
}

// bodyOf makes a body that must be possible.
func bodyOf(t testing.TB, build Build) *Body {
	t.Helper()
	body, err := NewBody(build)
	require.NoError(t, err)
	return body
}

// at starts a body with every layer at its temperature.
func at(t testing.TB, body *Body, layerC []float64, laws ...*Rates) *State {
	t.Helper()
	state, err := NewState(body, layerC, laws...)
	require.NoError(t, err)
	return state
}

// rubber is one layer of mold rubber of a shape, with a given number of cells.
func rubber(t testing.TB, shape Shape, thickness float64, cells int) *Body {
	t.Helper()
	return bodyOf(t, Build{Shape: shape, Layers: []Layer{{Material: MoldRubber(), Thickness: thickness, Cells: cells, Cures: true}}, RightH: 8})
}
