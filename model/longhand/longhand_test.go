package longhand_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"io"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/model/longhand"
	"pourward/sensors"
)

func noon() time.Time { return time.Date(2026, 1, 14, 12, 0, 0, 0, time.UTC) }

// kept is a small record with one of everything.
func kept() *notebook {
	good := sensors.GoodMeasure
	return &notebook{
		probes: []string{"bench-air", "Werkbank ä"},
		boots:  []sensors.Boot{{ID: "3f0c", Zero: noon().Add(-time.Hour), First: noon(), Trusted: true}},
		shifts: []sensors.Shift{{Boot: "3f0c", From: time.UnixMilli(9000).UTC(), By: 318 * time.Hour}},
		marks: []model.Mark{
			{ID: 1, Kind: model.Begun, Mold: "frieze", At: noon(), Entered: noon(), Title: "Frieze <left>", Place: "bench", Material: "platinum-slow",
				Build: model.Build{Pattern: "plaster", PatternMM: 60, RubberMM: 12.5}},
			{ID: 2, Kind: model.CoatOn, Mold: "frieze", At: noon().Add(-20 * time.Minute), Entered: noon().Add(1500 * time.Millisecond), Material: "lacquer", Note: "late\n\"thin\""},
			{ID: 7, Kind: model.CoatOn, Mold: "frieze", At: noon(), Entered: noon().Add(time.Hour), Corrects: 2, Material: "shellac"},
		},
		readings: []sensors.Reading{
			{Probe: "bench-air", At: noon(), Temp: good(9.412), Humidity: good(0.7134)},
			{Probe: "Werkbank ä", At: noon(), Temp: good(0)},
			{Probe: "bench-air", At: noon().Add(10 * time.Second), Temp: sensors.Measure{Value: 31.5, Quality: sensors.Suspect, Fault: sensors.Jumped}, Humidity: good(1)},
			{Probe: "bench-air", At: noon().Add(20 * time.Second), Temp: good(-40), Humidity: sensors.Measure{Quality: sensors.Bad, Fault: sensors.BadChecksum}},
		},
	}
}

func written(t require.TestingT, n *notebook) []byte {
	var out bytes.Buffer
	_, err := longhand.Write(context.Background(), &out, n, noon())
	require.NoError(t, err)
	return out.Bytes()
}

func read(text io.Reader) (*notebook, error) {
	var n notebook
	_, err := longhand.Read(context.Background(), text, &n)
	return &n, err
}

// The form is fixed for good: what was written once must be read by every later version.
const versionOne = `{"pourward":{"version":1,"written":"2026-01-14T12:00:00Z"}}
{"probe":{"name":"bench-air"}}
{"probe":{"name":"Werkbank ä"}}
{"boot":{"id":"3f0c","zero":"2026-01-14T11:00:00Z","first":"2026-01-14T12:00:00Z","trusted":true}}
{"shift":{"boot":"3f0c","from":"1970-01-01T00:00:09Z","by_ms":1144800000}}
{"mark":{"id":1,"kind":"begun","mold":"frieze","at":"2026-01-14T12:00:00Z","entered":"2026-01-14T12:00:00Z","title":"Frieze <left>","place":"bench","material":"platinum-slow","build":{"pattern":"plaster","pattern_mm":60,"rubber_mm":12.5}}}
{"mark":{"id":2,"kind":"coat on","mold":"frieze","at":"2026-01-14T11:40:00Z","entered":"2026-01-14T12:00:01.5Z","material":"lacquer","note":"late\n\"thin\""}}
{"mark":{"id":7,"kind":"coat on","mold":"frieze","at":"2026-01-14T12:00:00Z","entered":"2026-01-14T13:00:00Z","corrects":2,"material":"shellac"}}
{"reading":{"probe":"bench-air","at":"2026-01-14T12:00:00Z","temp_c":9.412,"humidity":0.7134}}
{"reading":{"probe":"Werkbank ä","at":"2026-01-14T12:00:00Z","temp_c":0}}
{"reading":{"probe":"bench-air","at":"2026-01-14T12:00:10Z","temp_c":31.5,"temp_quality":"suspect","temp_fault":"jumped","humidity":1}}
{"reading":{"probe":"bench-air","at":"2026-01-14T12:00:20Z","temp_c":-40,"humidity_quality":"bad","humidity_fault":"checksum"}}
`

func TestVersionOne(t *testing.T) {
	text := string(written(t, kept()))
	lines, end, found := strings.Cut(text, `{"end":`)
	require.True(t, found)
	require.Equal(t, versionOne, lines)
	require.Regexp(t, `^\{"readings":4,"marks":3,"sha256":"[0-9a-f]{64}"\}\}\n$`, end)
	got, err := read(strings.NewReader(text))
	require.NoError(t, err)
	require.Equal(t, kept(), got)
}

// Other tools parse it with what their language brings: any JSON reader, line by line.
func TestEveryLineIsJSON(t *testing.T) {
	for line := range bytes.Lines(written(t, kept())) {
		var any map[string]map[string]any
		require.NoError(t, json.Unmarshal(line, &any))
		require.Len(t, any, 1)
	}
}

// fill sets every field to something that is not zero.
func fill(t require.TestingT, v reflect.Value) {
	if v.Type() == reflect.TypeFor[time.Time]() {
		v.Set(reflect.ValueOf(noon()))
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString("told")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Int16, reflect.Int8:
		v.SetInt(3)
	case reflect.Uint, reflect.Uint64, reflect.Uint32, reflect.Uint16, reflect.Uint8:
		v.SetUint(3)
	case reflect.Float64, reflect.Float32:
		v.SetFloat(2.5)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fill(t, v.Index(0))
		fill(t, v.Index(1))
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(t, v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			fill(t, v.Field(i))
		}
	default:
		require.Fail(t, "a mark has a field of a kind that this test does not know", "%s", v.Type())
	}
}

// A field that is new in a mark is carried, or this fails: add it to [longhand.Mark], its way there and
// its way back.
func TestMarkCarriesEveryField(t *testing.T) {
	var want model.Mark
	fill(t, reflect.ValueOf(&want).Elem())
	text, err := json.Marshal(longhand.MarkOf(want))
	require.NoError(t, err)
	var got longhand.Mark
	require.NoError(t, json.Unmarshal(text, &got))
	require.Equal(t, want, got.Mark())
}

func drawMeasure(limit float64) *rapid.Generator[sensors.Measure] {
	return rapid.Custom(func(t *rapid.T) sensors.Measure {
		m := sensors.Measure{Quality: sensors.Quality(rapid.Uint8Range(0, 4).Draw(t, "quality")), Fault: sensors.Fault(rapid.Uint8().Draw(t, "fault"))}
		if rapid.Bool().Draw(t, "has a value") {
			m.Value = rapid.Float64Range(-limit, limit).Draw(t, "value")
		}
		return m
	})
}

func drawInstant() *rapid.Generator[time.Time] {
	return rapid.Map(rapid.Int64Range(0, 253_402_300_799_999), func(ms int64) time.Time { return time.UnixMilli(ms).UTC() })
}

func drawNotebook() *rapid.Generator[*notebook] {
	return rapid.Custom(func(t *rapid.T) *notebook {
		n := &notebook{probes: rapid.SliceOfNDistinct(rapid.String(), 1, 4, rapid.ID).Draw(t, "probes")}
		for range rapid.IntRange(0, 3).Draw(t, "boots") {
			id := rapid.String().Draw(t, "boot")
			n.boots = append(n.boots, sensors.Boot{ID: id, Zero: drawInstant().Draw(t, "zero"), First: drawInstant().Draw(t, "first"), Trusted: rapid.Bool().Draw(t, "trusted")})
			n.shifts = append(n.shifts, sensors.Shift{Boot: id, From: drawInstant().Draw(t, "from"), By: time.Duration(rapid.Int64Range(-1e12, 1e12).Draw(t, "ms")) * time.Millisecond})
		}
		text := rapid.String()
		for id := range rapid.Int64Range(0, 4).Draw(t, "marks") {
			m := model.Mark{
				ID: 2*id + 1, Kind: model.MarkKind(text.Draw(t, "kind")), Mold: text.Draw(t, "mold"), At: drawInstant().Draw(t, "at"), Entered: drawInstant().Draw(t, "entered"),
				Title: text.Draw(t, "title"), Note: text.Draw(t, "note"), Found: model.Finding(text.Draw(t, "found")), Build: model.Build{PatternMM: rapid.Float64().Draw(t, "mm")},
			}
			if id > 0 && rapid.Bool().Draw(t, "correction") {
				m.Corrects = 2*id - 1
			}
			n.marks = append(n.marks, m)
		}
		for range rapid.IntRange(0, 20).Draw(t, "readings") {
			n.readings = append(n.readings, sensors.Reading{
				Probe: rapid.SampledFrom(n.probes).Draw(t, "probe"), At: drawInstant().Draw(t, "at"),
				Temp: drawMeasure(2e6).Draw(t, "temp"), Humidity: drawMeasure(2e5).Draw(t, "humidity"),
			}.Rounded())
		}
		return n
	})
}

// What is read is what was written, to the last bit, compressed or not.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawNotebook().Draw(t, "record")
		text := written(t, want)
		got, err := read(bytes.NewReader(text))
		require.NoError(t, err)
		require.Equal(t, want, got)
		got, err = read(bytes.NewReader(zipped(text)))
		require.NoError(t, err)
		require.Equal(t, want, got)
	})
}

func zipped(text []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	_, _ = z.Write(text) // a buffer takes everything
	_ = z.Close()
	return out.Bytes()
}

// Wherever it is cut, and whichever byte is changed, it is known for damaged.
func TestDamage(t *testing.T) {
	text := written(t, kept())
	packed := zipped(text)
	for n := range text {
		_, err := read(bytes.NewReader(text[:n]))
		require.Error(t, err, "cut after %d", n)
		if n > bytes.IndexByte(text, '\n') { // before, it could be anything
			require.ErrorIs(t, err, longhand.ErrCut, "cut after %d", n)
		}
		_, err = read(bytes.NewReader(changed(text, n)))
		require.Error(t, err, "byte %d changed", n)
	}
	for n := range packed {
		_, err := read(bytes.NewReader(packed[:n]))
		require.Error(t, err, "compressed, cut after %d", n)
		if n >= 10 { // RFC 1952: the header's time, flags and system are not part of what it holds
			_, err = read(bytes.NewReader(changed(packed, n)))
			require.Error(t, err, "compressed, byte %d changed", n)
		}
	}
}

func changed(text []byte, n int) []byte {
	out := bytes.Clone(text)
	out[n] ^= 1
	return out
}

func TestRefusals(t *testing.T) {
	text := string(written(t, kept()))
	for name, c := range map[string]struct {
		text string
		want error
		says string
	}{
		"nothing":             {"", longhand.ErrNotLonghand, ""},
		"a picture":           {"\x89PNG\r\n\x1a\n\x00", longhand.ErrNotLonghand, ""},
		"a table":             {"time,temp_c\n2026-01-14,9\n", longhand.ErrNotLonghand, "line 1: "},
		"other JSON":          {"{\"a\":1}\n", longhand.ErrNotLonghand, ""},
		"no version":          {"{\"pourward\":{}}\n", longhand.ErrNotLonghand, ""},
		"a newer version":     {strings.Replace(text, `"version":1`, `"version":2,"more":true`, 1), longhand.ErrNewer, "line 1: version 2, known up to 1: written by a newer pourward; use that version or a later one"},
		"a newer mark":        {strings.Replace(text, `"note":`, `"weather":"fine","note":`, 1), longhand.ErrNewer, `line 7: written by a newer pourward; use that version or a later one (json: unknown field "weather")`},
		"a reading left out":  {strings.Replace(text, `{"reading":{"probe":"Werkbank ä","at":"2026-01-14T12:00:00Z","temp_c":0}}`+"\n", "", 1), longhand.ErrChanged, "its checksum does not fit"},
		"marks out of order":  {strings.Replace(text, `"id":7`, `"id":2`, 1), longhand.ErrChanged, "line 8: "},
		"no mark to correct":  {strings.Replace(text, `"corrects":2`, `"corrects":3`, 1), longhand.ErrChanged, "mark 7 corrects mark 3"},
		"no such probe":       {strings.Replace(text, `{"probe":{"name":"bench-air"}}`, `{"probe":{"name":"bench"}}`, 1), longhand.ErrChanged, `probe "bench-air" is not listed above`},
		"no such fault":       {strings.Replace(text, `"jumped"`, `"leapt"`, 1), longhand.ErrChanged, `"leapt" is not a fault`},
		"finer than the grid": {strings.Replace(text, `9.412`, `9.4121`, 1), longhand.ErrChanged, "line 9: "},
		"two headers":         {strings.Replace(text, "\n", "\n"+strings.SplitAfter(text, "\n")[0], 1), longhand.ErrChanged, "line 2: "},
		"not UTF-8":           {strings.Replace(text, "late", "l\xe0te", 1), longhand.ErrChanged, "line 7: "},
		"half of a character": {strings.Replace(text, "late", `l\ud83dte`, 1), longhand.ErrChanged, `\ud83d is half of a character`},
		"a probe not UTF-8":   {strings.ReplaceAll(text, "Werkbank ä", "Werkbank \xe4"), longhand.ErrChanged, "line 3: "},
		"something behind":    {text + "\n", longhand.ErrChanged, "after the end line"},
		"a line without end":  {strings.Split(text, "\n")[0] + "\n" + strings.Repeat("x", 2<<20), longhand.ErrChanged, "line 2: "},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := read(strings.NewReader(c.text))
			require.ErrorIs(t, err, c.want)
			require.ErrorContains(t, err, c.says)
		})
	}
}

// moving is a record that is dated anew while it is read.
type moving struct{ notebook }

func (m *moving) Readings(context.Context, time.Time, time.Time, func(sensors.Reading) error) error {
	m.shifts = append(m.shifts, sensors.Shift{})
	return nil
}

func TestDatedAnewMeanwhile(t *testing.T) {
	_, err := longhand.Write(t.Context(), io.Discard, &moving{}, noon())
	require.ErrorIs(t, err, longhand.ErrMoved)
}

// Nothing makes the reader fall over, and what it takes it can write and read again.
func FuzzRead(f *testing.F) {
	text := written(f, kept())
	f.Add(text)
	f.Add(zipped(text))
	f.Add(written(f, &notebook{}))
	f.Add(text[:len(text)/2])
	f.Fuzz(func(t *testing.T, text []byte) {
		first, err := read(bytes.NewReader(text))
		if err != nil {
			return
		}
		again, err := read(bytes.NewReader(written(t, first)))
		require.NoError(t, err)
		require.Equal(t, first, again)
	})
}
