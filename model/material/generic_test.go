package material_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/material"
)

// table reads a CSV file with a header row, each row as column -> cell. Every row names its source.
func table(t *testing.T, path string) []map[string]string {
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

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// quantity gives a value of a material in the table's unit.
func quantity(t *testing.T, m material.Material, name, unit string) float64 {
	t.Helper()
	in := map[string]time.Duration{"min": time.Minute, "h": time.Hour}[unit]
	span := func(d time.Duration) float64 { return float64(d) / float64(in) }
	switch name {
	case "working life":
		return span(m.WorkingLife.Ref)
	case "demold time":
		return span(m.Demold.Ref)
	case "earliest next layer":
		return span(m.LayerEarliest.Ref)
	case "latest next layer":
		return span(m.LayerLatest.Ref)
	case "dry time":
		return span(m.Coat.Ref)
	case "reference temperature":
		return m.RefC
	case "temperature of doubt":
		return m.DoubtBelowC
	case "density":
		return m.GramsPerML
	case "activation energy of the working life":
		return m.WorkingLife.EaJ / 1000
	case "activation energy of the demold time":
		return m.Demold.EaJ / 1000
	}
	require.Fail(t, "no such quantity", name)
	return 0
}

func TestGenericValuesAreWhatTheSourcesSay(t *testing.T) {
	for _, row := range table(t, "testdata/generic.csv") {
		t.Run(row["material"]+" "+row["quantity"], func(t *testing.T) {
			m := find(t, row["material"])
			v := quantity(t, m, row["quantity"], row["unit"])
			require.GreaterOrEqual(t, v, number(t, row["low"]))
			require.LessOrEqual(t, v, number(t, row["high"]))
		})
	}
}

func find(t testing.TB, name string) material.Material {
	t.Helper()
	m, err := material.Generic().Find(name)
	require.NoError(t, err)
	return m
}

func generics(t testing.TB) []material.Material {
	t.Helper()
	all := material.Generic().OfKind(material.Kinds()...)
	require.Len(t, all, len(material.Generic().Names()))
	return all
}

// Every number names its source, every name is safe in a mark, whatever can hurt says so: Check sees to
// each of these, and the classes pass it.
func TestGenericClassesPassTheirOwnCheck(t *testing.T) {
	for _, m := range generics(t) {
		require.NoError(t, m.Check())
	}
}

// A generic class is nobody's product, so nothing of it can be from a product's data sheet.
func TestGenericSourcesAreStatedAndNoSheets(t *testing.T) {
	for _, m := range generics(t) {
		t.Run(m.Name, func(t *testing.T) {
			for _, e := range []material.Event{m.WorkingLife, m.Demold, m.LayerEarliest, m.LayerLatest} {
				if e.Known() {
					requireStated(t, e.Source)
					requireStated(t, e.EaFrom)
				}
			}
			if m.Cures() {
				requireStated(t, m.DoubtFrom)
				requireStated(t, m.PourFrom)
				requireStated(t, m.DensityFrom)
				require.NotEmpty(t, m.DemoldTest)
			} else {
				requireStated(t, m.Coat.Source)
			}
		})
	}
}

func requireStated(t *testing.T, s material.Source) {
	t.Helper()
	require.Contains(t, []material.Status{material.Published, material.Practice, material.Assumption}, s.Status)
	require.NotEmpty(t, s.Text)
	require.Equal(t, string(s.Status)+": "+s.Text, s.String())
}

// What can hurt, and the word its caution may not miss: GHS hazards of the class, from memory.
func TestCautionsNameTheHazard(t *testing.T) {
	for name, words := range map[string][]string{
		"platinum-slow":       {"gloves"},
		"platinum-fast":       {"gloves"},
		"tin-silicone":        {"organotin", "gloves", "fresh air"},
		"polyurethane-rubber": {"isocyanates", "sensitize", "spraying", "licensed practice"},
		"polyurethane-resin":  {"isocyanates", "sensitize", "spraying", "licensed practice"},
		"epoxy":               {"sensitize", "gloves", "heat itself"},
		"plaster":             {"dust", "hot", "never enclose a hand"},
		"lacquer":             {"ventilate", "flames", "respirator", "heater"},
		"shellac":             {"ventilate", "flames", "respirator", "heater"},
		"wax-naphtha":         {"ventilate", "flames", "respirator", "heater"},
		"wax-spirit":          {"ventilate", "flames", "respirator", "heater"},
	} {
		text := strings.Join(find(t, name).Cautions, " ")
		require.Contains(t, text, "safety data sheet", name)
		for _, word := range words {
			require.Contains(t, text, word, name)
		}
	}
}

func TestTitlesNameSubstancesOnly(t *testing.T) {
	words := map[string]bool{}
	for _, row := range table(t, "testdata/words.csv") {
		words[row["word"]] = true
	}
	for _, m := range generics(t) {
		for _, word := range strings.Fields(strings.ToLower(m.Title)) {
			require.Contains(t, words, strings.TrimRight(word, ","), m.Title)
		}
	}
}

func TestShelfListsWhatItHas(t *testing.T) {
	s := material.NewShelf(material.Material{Name: "b", Kind: material.Sealer}, material.Material{Name: "a", Kind: material.Rubber, Title: "first"},
		material.Material{Name: "a", Kind: material.Rubber, Title: "second"})
	require.Equal(t, []string{"a", "b"}, s.Names())
	m, err := s.Find("a")
	require.NoError(t, err)
	require.Equal(t, "second", m.Title)
	require.Len(t, s.OfKind(material.Rubber), 1)
	more := s.With(material.Material{Name: "c", Kind: material.Resin}, material.Material{Name: "b", Kind: material.Release})
	require.Equal(t, []string{"a", "b", "c"}, more.Names())
	require.Equal(t, []string{"a", "b"}, s.Names())
	_, err = s.Find("c")
	require.EqualError(t, err, `no material is called "c"; there are: a, b`)
}
