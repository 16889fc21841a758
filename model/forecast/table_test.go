package forecast

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// row is one line of a table of published check values.
type row struct {
	t      *testing.T
	fields map[string]string
}

// table reads testdata/name.csv; every row must say where its value comes from.
func table(t *testing.T, name string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name+".csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1, name)
	var rows []row
	for _, line := range lines[1:] {
		r := row{t, map[string]string{}}
		for i, v := range line {
			r.fields[lines[0][i]] = v
		}
		require.NotEmpty(t, r.fields["source"], "%s: %v has no source", name, line)
		rows = append(rows, r)
	}
	return rows
}

func (r row) text(column string) string {
	r.t.Helper()
	v, ok := r.fields[column]
	require.True(r.t, ok, "no column %q", column)
	return v
}

func (r row) num(column string) float64 {
	r.t.Helper()
	v, err := strconv.ParseFloat(r.text(column), 64)
	require.NoError(r.t, err)
	return v
}

// nums splits a field at semicolons.
func (r row) nums(column string) (out []float64) {
	r.t.Helper()
	for _, part := range strings.Split(r.text(column), ";") {
		v, err := strconv.ParseFloat(part, 64)
		require.NoError(r.t, err)
		out = append(out, v)
	}
	return out
}
