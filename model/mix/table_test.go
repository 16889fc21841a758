package mix

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// table reads a CSV file with a header row, each row as column -> cell. Every row names its source.
func table(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(records), 1, "no rows in %s", path)
	var rows []map[string]string
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, cell := range record {
			row[records[0][i]] = cell
		}
		require.NotEmpty(t, row["source"], "%s: %v", path, record)
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// numbers reads cells set off by |; an empty text has none.
func numbers(t testing.TB, text string) []float64 {
	t.Helper()
	var out []float64
	for _, cell := range cells(text) {
		out = append(out, number(t, cell))
	}
	return out
}

func cells(text string) []string {
	if text == "" {
		return nil
	}
	return strings.Split(text, "|")
}

// recipe reads a row's basis, parts and additives.
func recipe(t testing.TB, row map[string]string) Recipe {
	t.Helper()
	r := Recipe{}
	if row["basis"] == "volume" {
		r.Basis = ByVolume
	}
	for _, cell := range cells(row["parts"]) {
		words := append(strings.Fields(cell), "0", "0")
		r.Parts = append(r.Parts, Part{Name: words[0], Ratio: number(t, words[1]), GramsPerML: number(t, words[2])})
	}
	for _, cell := range cells(row["additives"]) {
		words := append(strings.Fields(cell), "")
		r.Additives = append(r.Additives, Additive{Name: words[0], Share: number(t, words[1]), Of: words[2]})
	}
	if text := row["tolerance"]; text != "" {
		r.Tolerance = number(t, text)
	}
	return r
}

func weighing(t testing.TB, text string) Weighing {
	t.Helper()
	w, ok := map[string]Weighing{"tared": Tared, "running": Running, "apart": Apart}[text]
	require.True(t, ok, text)
	return w
}
