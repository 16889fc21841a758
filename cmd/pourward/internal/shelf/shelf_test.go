package shelf_test

import (
	"encoding/csv"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/config"
	"pourward/cmd/pourward/internal/shelf"
	"pourward/model/material"
)

func day(year, month, day int) time.Time {
	return time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
}

func TestSoundFile(t *testing.T) {
	got, err := shelf.Load("testdata/sound.yml")
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.Equal(t, rubber(t), got[0])

	const fahrenheit68 = 20.0 // NIST SP 811 (2008), B.8: (68 - 32)/1.8
	require.InDelta(t, fahrenheit68, got[1].RefC, 1e-9)
	got[1].RefC = fahrenheit68
	require.Equal(t, material.Material{
		Name: "my-sealer", Title: "My sealer", Kind: material.Sealer, RefC: fahrenheit68,
		Coat: material.Coat{
			Class: material.LightNaphtha, Ref: 70 * time.Minute, RefHumidity: 0.6,
			Source:     material.Source{Status: material.DataSheet, Text: "the can"},
			RecoatFrom: 2 * time.Hour, RecoatUntil: 24 * time.Hour, FilmMicrometers: 25.4,
		},
		Cautions: []string{"No flames."},
	}, got[1])
}

// rubber is the first material of the sound file.
func rubber(t *testing.T) material.Material {
	t.Helper()
	from := material.Source{Status: material.DataSheet, Text: "issue of 2024"}
	event := func(ref time.Duration, eaJ float64) material.Event {
		return material.Event{Ref: ref, LnSD: 0.15, EaJ: eaJ, EaSDJ: 10e3, Source: from, EaFrom: from}
	}
	class, err := material.Generic().Find("platinum-slow")
	require.NoError(t, err)
	return material.Material{
		Name: "my-rubber", Title: "My rubber", Kind: material.Rubber, RefC: 23,
		WorkingLife: event(35*time.Minute, 48e3), Demold: event(6*time.Hour, 55e3), DemoldTest: "the cup is firm",
		LayerEarliest: event(50*time.Minute, 55e3), LayerLatest: event(5*time.Hour, 55e3),
		Second: material.SecondTime{TempC: 40, WorkingLife: 14 * time.Minute, Demold: 105 * time.Minute, RelSD: 0.1, Source: from},
		FloorC: 5, DoubtBelowC: 15, DoubtFrom: from,
		Known: material.Window{MinC: 10, MaxC: 40}, Pour: material.Window{MinC: 18, MaxC: 30}, PourFrom: from,
		Humidity:   material.Humidities{Min: 0.2, Max: 0.8},
		GramsPerML: 1.12, DensityFrom: from,
		Mixing: material.Mixing{
			ByVolume: true, Tolerance: 0.02, Source: from,
			Parts: []material.Part{{Name: "A", Ratio: 10, GramsPerML: 1.13, JPerGramK: 1.4}, {Name: "B", Ratio: 1, GramsPerML: 1.02}},
		},
		Storage:  material.Storage{ShelfLife: 365 * 24 * time.Hour, OpenedLife: 180 * 24 * time.Hour, Temp: material.Window{MinC: 10, MaxC: 27}, Source: from},
		Lots:     []material.Lot{{Number: "R-1", Made: day(2024, 3, 1), Opened: day(2024, 6, 10), Expiry: day(2025, 1, 31)}},
		Cautions: append(slices.Clone(class.Cautions), "Part B stains."),
	}
}

// What a sheet leaves out is the class's, with the class's sources; a time never is.
func TestLikeTakesAllButTimes(t *testing.T) {
	got, err := shelf.Parse("m.yml", []byte(`
materials:
  - {name: mine, title: Mine, like: tin-silicone, sheet: "page 1", at: "25 °C", demold: "20 h"}
`))
	require.NoError(t, err)
	want, err := material.Generic().Find("tin-silicone")
	require.NoError(t, err)
	want.Name, want.Title, want.RefC = "mine", "Mine", 25
	want.Demold.Ref, want.Demold.Source = 20*time.Hour, material.Source{Status: material.DataSheet, Text: "page 1"}
	want.WorkingLife, want.LayerEarliest, want.LayerLatest = material.Event{}, material.Event{}, material.Event{}
	require.Equal(t, []material.Material{want}, got)
}

// Whatever class a product is like, its cautions stay.
func TestEveryClassCanBeTakenUp(t *testing.T) {
	for _, name := range material.Generic().Names() {
		class, err := material.Generic().Find(name)
		require.NoError(t, err)
		times := `demold: "20 h"`
		if !class.Cures() {
			times = `dry: "20 min"`
		}
		got, err := shelf.Parse("m.yml", []byte(`materials: [{name: mine, title: Mine, like: `+name+`, sheet: "page 1", at: "23 °C", `+times+`, cautions: [More.]}]`))
		require.NoError(t, err)
		require.Equal(t, append(slices.Clone(class.Cautions), "More."), got[0].Cautions)
	}
}

func TestExampleIsSound(t *testing.T) {
	got, err := shelf.Parse("materials.yml", shelf.Example())
	require.NoError(t, err)
	require.Len(t, got, 5)
	for _, m := range got {
		require.True(t, strings.HasPrefix(m.Name, "my-"))
		require.NoError(t, m.Check())
	}
}

// Every key the reader knows is in the example, or the person cannot learn of it.
func TestExampleShowsEveryKey(t *testing.T) {
	for _, key := range strings.Fields(`materials name title like kind class sheet at at_humidity working_life demold demold_test layer from
		until spread second error energy floor doubt_below known pour min max humidity inhibitable density mix by tolerance parts ratio heat
		storage shelf_life opened_life lots number made opened expiry cautions dry recoat film`) {
		require.Contains(t, string(shelf.Example()), key+":")
	}
}

// table reads a CSV file with a header row, each row as column -> cell.
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
		rows = append(rows, row)
	}
	return rows
}

func TestBadLines(t *testing.T) {
	sound, err := os.ReadFile("testdata/sound.yml")
	require.NoError(t, err)
	for _, row := range table(t, "testdata/bad_lines.csv") {
		t.Run(row["case"], func(t *testing.T) {
			line, err := strconv.Atoi(row["line"])
			require.NoError(t, err)
			_, err = shelf.Parse("m.yml", replaceLine(sound, line, row["write"]))
			require.EqualError(t, err, row["problem"])
		})
	}
}

// replaceLine writes text instead of a line, counted from 1, of data; no text takes the line out.
func replaceLine(data []byte, line int, text string) []byte {
	lines := strings.Split(string(data), "\n")
	edited := slices.Clone(lines[:line-1])
	if text != "" {
		edited = append(edited, text)
	}
	return []byte(strings.Join(append(edited, lines[line:]...), "\n"))
}

// A file with several faults, its exact messages beside it.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.yml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			want, err := os.ReadFile(strings.TrimSuffix(path, ".yml") + ".txt")
			require.NoError(t, err)
			_, err = shelf.Parse(filepath.Base(path), data)
			require.EqualError(t, err, strings.TrimRight(string(want), "\n"))
		})
	}
}

func TestHostileFiles(t *testing.T) {
	const none = `a.yml:1:1: the file has no materials; write e.g. materials: [{name: my-slow-rubber, title: "My slow rubber", like: platinum-slow, sheet: "issue of 2024", at: "23 °C", working_life: "35 min", demold: "6 h"}]`
	for name, c := range map[string]struct{ text, problem string }{
		"empty":       {"", none},
		"comments":    {"# later\n", none},
		"latin 1":     {"materials:\n  - at: \"µ\xb0C\"\n", "a.yml:2:11: this character is not UTF-8; save the file as UTF-8"},
		"too large":   {strings.Repeat("# more\n", 10_000), "a.yml:1:1: the file is larger than 32 KiB; is this the right file?"},
		"brackets":    {strings.Repeat("[", 30_000), "a.yml:1:17: more than 16 values are one inside the other here; close brackets, and begin fewer lists in lists"},
		"dashes":      {strings.Repeat("- ", 15_000), "a.yml:1:33: more than 16 values are one inside the other here; close brackets, and begin fewer lists in lists"},
		"only text":   {"hello", `a.yml:1:1: "hello" is text, not a group of keys; write e.g. ` + strings.SplitN(none, "write e.g. ", 2)[1]},
		"alias bombs": {"materials: &a [*a, *a]\n", "a.yml:1:12: anchors, aliases, tags and directives are not used here; write the value itself"},
		"two in one":  {"materials: []\n---\nmaterials: []\n", "a.yml:3:1: a second document begins here; keep all in one document without ---"},
		"odd key":     {"1: b\n", "a.yml:1:1: this is no plain key; write e.g. name: value"},
		"tabs":        {"materials:\n\t- name: x\n", `a.yml:2:1: not YAML: found character '\t' that cannot start any token; indent with spaces, and put text with signs in it in quotes, e.g. "2 %"`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := shelf.Parse("a.yml", []byte(c.text))
			require.Error(t, err)
			require.Contains(t, strings.Split(err.Error(), "\n"), c.problem)
		})
	}
}

func TestLoadSaysWhichFileIsMissing(t *testing.T) {
	_, err := shelf.Load("testdata/nowhere.yml")
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.ErrorContains(t, err, "testdata/nowhere.yml")
}

func TestWindowsLineEndsAndByteOrderMark(t *testing.T) {
	sound, err := os.ReadFile("testdata/sound.yml")
	require.NoError(t, err)
	want, err := shelf.Parse("m.yml", sound)
	require.NoError(t, err)
	got, err := shelf.Parse("m.yml", []byte("\ufeff"+strings.ReplaceAll(string(sound), "\n", "\r\n")))
	require.NoError(t, err)
	require.Equal(t, want, got)
}

func FuzzParse(f *testing.F) {
	for _, path := range []string{"testdata/sound.yml", "example.yml", "testdata/bad/many.yml"} {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) { requireSoundOrExplained(t, data) })
}

// FuzzOneLine spoils a sound file in one line, which goes deeper than random bytes do.
func FuzzOneLine(f *testing.F) {
	sound, err := os.ReadFile("testdata/sound.yml")
	require.NoError(f, err)
	lines := strings.Count(string(sound), "\n")
	for _, row := range table(f, "testdata/bad_lines.csv") {
		line, err := strconv.Atoi(row["line"])
		require.NoError(f, err)
		f.Add(uint8(line-1), row["write"])
	}
	f.Fuzz(func(t *testing.T, line uint8, text string) {
		requireSoundOrExplained(t, replaceLine(sound, 1+int(line)%lines, text))
	})
}

// requireSoundOrExplained reads data and checks that the outcome is one the person and the model can work
// with: materials that pass every check, or problems that each point into the file.
func requireSoundOrExplained(t *testing.T, data []byte) {
	t.Helper()
	got, err := shelf.Parse("m.yml", data)
	if err == nil {
		require.NotEmpty(t, got)
		require.Len(t, material.Generic().With(got...).Names(), len(got)+len(material.Generic().Names()))
		for _, m := range got {
			require.NoError(t, m.Check())
		}
		return
	}
	var problems config.Problems
	require.True(t, errors.As(err, &problems))
	require.NotEmpty(t, problems)
	lines := 1 + strings.Count(string(data), "\n") + strings.Count(string(data), "\r")
	for i, p := range problems {
		require.True(t, p.Line >= 1 && p.Line <= lines+1 && p.Column >= 1, "%v", p)
		require.NotEmpty(t, p.What)
		require.NotEmpty(t, p.Fix)
		require.True(t, i == 0 || problems[i-1].Line <= p.Line)
	}
}
