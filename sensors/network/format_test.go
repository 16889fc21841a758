package network

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func rowFormat(t *testing.T, row map[string]string) Format {
	f := Format{NumericStrings: row["strings"] == "yes", Unit: "u",
		Temp: Field{Path: row["temp_path"]}, Humidity: Field{Path: row["humidity_path"]}}
	if row["scale"] != "" {
		f.Temp.Scale = number(t, row["scale"])
	}
	if row["offset"] != "" {
		f.Temp.Offset = number(t, row["offset"])
	}
	f.TempUnit, _ = tempUnit(row["temp_unit"])
	f.HumidityUnit, _ = humidityUnit(row["humidity_unit"])
	return f
}

func TestMessages(t *testing.T) {
	for _, row := range table(t, "testdata/messages.csv") {
		f, err := rowFormat(t, row).compile()
		require.NoError(t, err, row)
		var kinds []string
		doc, r := decode([]byte(row["message"]))
		if r != nil {
			require.Equal(t, row["refusals"], r.kind.String(), row)
			continue
		}
		a, faults := f.read(doc)
		for _, r := range faults {
			kinds = append(kinds, r.kind.String())
		}
		require.Equal(t, row["refusals"], strings.Join(kinds, " "), row)
		same(t, number(t, row["temp_c"]), a.sample.TempC, row)
		same(t, number(t, row["humidity"]), a.sample.Humidity, row)
	}
}

func TestMessageThatIsTooLarge(t *testing.T) {
	exact := `{"t":20}` + strings.Repeat(" ", MaxPayload-8)
	_, r := decode([]byte(exact))
	require.Nil(t, r)
	_, r = decode([]byte(exact + " "))
	require.Equal(t, TooLarge, r.kind)
}

func TestPaths(t *testing.T) {
	for _, row := range table(t, "testdata/paths.csv") {
		p, err := parsePath(row["path"])
		require.Equal(t, err, CheckPath(row["path"]))
		if row["valid"] == "no" {
			require.Error(t, err, row)
			continue
		}
		require.NoError(t, err, row)
		require.Equal(t, row["path"], p.String(), "a path says itself")
	}
}

// Whatever the names of members are, a path to one can be written and is found.
func TestPathsLeadToTheirValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p path
		var doc any = "here"
		for range rapid.IntRange(0, mostSteps).Draw(t, "depth") {
			if rapid.Bool().Draw(t, "array") {
				list := make([]any, rapid.IntRange(1, 4).Draw(t, "length"))
				i := rapid.IntRange(0, len(list)-1).Draw(t, "index")
				list[i] = doc
				p, doc = append(path{{index: i}}, p...), list
			} else {
				key := rapid.StringN(1, 8, -1).Draw(t, "key")
				p, doc = append(path{{key: key, index: -1}}, p...), map[string]any{key: doc, key + "x": "elsewhere"}
			}
		}
		parsed, err := parsePath(p.String())
		require.NoError(t, err)
		require.Equal(t, p, parsed)
		found, ok := parsed.find(doc)
		require.True(t, ok)
		require.Equal(t, "here", found)
	})
}

func TestTimes(t *testing.T) {
	forms := map[string]TimeForm{"rfc3339": RFC3339, "unix": UnixSeconds, "millis": UnixMillis}
	for _, row := range table(t, "testdata/times.csv") {
		f, err := Format{Temp: Field{Path: "t"}, TempUnit: Celsius, Time: "at", TimeForm: forms[row["form"]]}.compile()
		require.NoError(t, err)
		text := row["time"]
		if row["form"] == "rfc3339" {
			text = `"` + text + `"`
		}
		doc, r := decode([]byte(`{"t": 20, "at": ` + text + `}`))
		require.Nil(t, r)
		a, faults := f.read(doc)
		require.Equal(t, 20.0, a.sample.TempC, "a bad time leaves the value")
		if row["unix_millis"] == "" {
			require.Len(t, faults, 1, row)
			require.Equal(t, NoTime, faults[0].kind)
			continue
		}
		require.Empty(t, faults, row)
		require.Equal(t, number(t, row["unix_millis"]), float64(a.sample.At.UnixMilli()), row)
		require.Equal(t, time.UTC, a.sample.At.Location())
	}
}

func TestSequences(t *testing.T) {
	f, err := Format{Temp: Field{Path: "t"}, TempUnit: Celsius, Sequence: "n"}.compile()
	require.NoError(t, err)
	for text, want := range map[string]bool{"0": true, "18446744073709551615": true, "18446744073709551616": false, "-1": false, "1.5": false, `"1"`: false, "null": true} {
		doc, r := decode([]byte(`{"t": 20, "n": ` + text + `}`))
		require.Nil(t, r)
		a, faults := f.read(doc)
		require.Equal(t, want, len(faults) == 0, text)
		require.Equal(t, want && text != "null", a.counted, text)
	}
}

func TestFormatsThatSayTooLittle(t *testing.T) {
	for want, f := range map[string]Format{
		"no path":                     {},
		"unit of the temperature":     {Temp: Field{Path: "t"}},
		"unit of the humidity":        {Humidity: Field{Path: "h"}},
		"a name is missing":           {Temp: Field{Path: "a."}, TempUnit: Celsius},
		"form of the time is unknown": {Temp: Field{Path: "t"}, TempUnit: Celsius, TimeForm: 9},
		"must be finite":              {Temp: Field{Path: "t", Scale: math.Inf(1)}, TempUnit: Celsius},
	} {
		_, err := f.compile()
		require.ErrorContains(t, err, want)
	}
}

func TestTopics(t *testing.T) {
	for _, row := range table(t, "testdata/topics.csv") {
		if row["matches"] == "invalid" {
			require.Error(t, checkFilter(row["filter"]), row)
			continue
		}
		require.NoError(t, checkFilter(row["filter"]), row)
		require.Equal(t, row["matches"] == "yes", matches(row["filter"], row["topic"]), row)
	}
	require.Error(t, checkTopic("shop/+"))
	require.Error(t, checkTopic("shop\x00"))
	require.NoError(t, checkTopic("shop/bench"))
}

func TestEveryRefusalHasAName(t *testing.T) {
	names := map[string]bool{}
	for r := TooLarge; r < refusalCount; r++ {
		require.NotContains(t, r.String(), "(")
		require.False(t, names[r.String()])
		names[r.String()] = true
	}
	require.Equal(t, "refusal(0)", Refusal(0).String())
}

func BenchmarkMessage(b *testing.B) {
	f, err := Format{Temp: Field{Path: "sht.temp"}, TempUnit: Celsius, Humidity: Field{Path: "sht.rh"}, HumidityUnit: Percent, Time: "at", Sequence: "n"}.compile()
	require.NoError(b, err)
	payload := []byte(`{"sht": {"temp": 21.37, "rh": 44}, "at": "2026-01-14T12:00:00Z", "n": 1207, "battery": 2.9}`)
	b.ReportAllocs()
	for b.Loop() {
		doc, r := decode(payload)
		if r != nil {
			b.Fatal(r)
		}
		f.read(doc)
	}
}
