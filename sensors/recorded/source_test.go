package recorded_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
	"pourward/sensors/recorded"
)

// table reads a file of testdata as one map per row.
func table(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// bench are options for a text with the columns time, temp and rh.
func bench(text string) recorded.Options {
	return recorded.Options{
		Path: "bench.csv", Reader: strings.NewReader(text),
		TimeColumn: "time", TimeLayout: time.DateTime, Zone: time.UTC,
		TempUnit: recorded.Celsius, HumidityUnit: recorded.Percent,
		Probes: []recorded.Probe{{Name: "bench", TempColumn: "temp", HumidityColumn: "rh"}},
	}
}

// run returns what a source delivers and how it ends.
func run(t testing.TB, o recorded.Options) ([]sensors.Reading, *recorded.Source, error) {
	t.Helper()
	s, err := recorded.New(o)
	require.NoError(t, err)
	out, ended := make(chan sensors.Reading), make(chan error, 1)
	go func() {
		ended <- s.Run(t.Context(), out)
		close(out)
	}()
	var got []sensors.Reading
	for r := range out {
		got = append(got, r)
	}
	return got, s, <-ended
}

func TestFileWithGaps(t *testing.T) {
	o := bench("")
	o.Reader, o.Path = nil, "testdata/good.csv"
	got, s, err := run(t, o)
	require.NoError(t, err)
	require.Zero(t, s.Skipped())
	require.Len(t, got, 5, "the row without values is no reading")
	begin := time.Date(2026, 1, 12, 8, 30, 0, 0, time.UTC)
	require.Equal(t, sensors.Reading{Probe: "bench", At: begin, Temp: sensors.GoodMeasure(7.1), Humidity: sensors.GoodMeasure(0.65)}, got[0])
	require.Equal(t, sensors.Measure{}, got[2].Temp, "an empty cell is missing, not zero")
	require.True(t, got[2].Humidity.OK())
	require.Equal(t, sensors.Measure{}, got[3].Humidity)
	require.Equal(t, begin.Add(5*time.Minute), got[4].At)

	again, _, err := run(t, o)
	require.NoError(t, err)
	require.Equal(t, got, again)
}

func TestUnitsAndTimes(t *testing.T) {
	for _, row := range table(t, "testdata/values.csv") {
		zone, err := time.LoadLocation(row["zone"])
		require.NoError(t, err)
		o := bench(fmt.Sprintf("time,temp,rh\n%s,%s,%s\n", row["time"], row["temp"], row["humidity"]))
		o.TimeLayout, o.Zone, o.Unjudged = row["layout"], zone, true
		if row["zone"] == "" {
			o.Zone = nil
		}
		o.TempUnit = map[string]recorded.TempUnit{"degC": recorded.Celsius, "degF": recorded.Fahrenheit}[row["temp_unit"]]
		o.HumidityUnit = map[string]recorded.HumidityUnit{"percent": recorded.Percent, "ratio": recorded.Ratio}[row["humidity_unit"]]
		got, _, err := run(t, o)
		require.NoError(t, err, row)
		require.Len(t, got, 1)
		require.Equal(t, row["unix_ms"], strconv.FormatInt(got[0].At.UnixMilli(), 10), row)
		tempC, err := strconv.ParseFloat(row["temp_c"], 64)
		require.NoError(t, err)
		humidity, err := strconv.ParseFloat(row["humidity_ratio"], 64)
		require.NoError(t, err)
		require.Equal(t, tempC, got[0].Temp.Value, row)
		require.Equal(t, humidity, got[0].Humidity.Value, row)
	}
}

func TestBadRows(t *testing.T) {
	for _, row := range table(t, "testdata/bad.csv") {
		text := "time,temp,rh\n2026-01-12 08:30:00,20,50\n" + row["row"] + "\n2026-01-12 08:32:00,20.5,51\n"
		got, _, err := run(t, bench(text))
		require.Len(t, got, 1, row["why"])
		var bad *recorded.RowError
		require.ErrorAs(t, err, &bad, row["why"])
		require.Equal(t, 3, bad.Line, row["why"])
		require.Equal(t, row["column"], bad.Column, row["why"])
		require.ErrorContains(t, err, row["says"])
		require.ErrorContains(t, err, "bench.csv:3")
		require.ErrorContains(t, err, "skip bad rows")
		require.Error(t, errors.Unwrap(bad))

		o := bench(text)
		o.SkipBadRows = true
		got, s, err := run(t, o)
		require.NoError(t, err, row["why"])
		require.Len(t, got, 2, row["why"])
		require.Equal(t, 1, s.Skipped(), row["why"])
	}
}

func TestPackedFile(t *testing.T) {
	plain, err := os.ReadFile("testdata/good.csv")
	require.NoError(t, err)
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, err = z.Write(plain)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	path := filepath.Join(t.TempDir(), "good.csv.gz")
	require.NoError(t, os.WriteFile(path, packed.Bytes(), 0o600))
	o := bench("")
	o.Reader, o.Path = nil, path
	got, _, err := run(t, o)
	require.NoError(t, err)
	require.Len(t, got, 5)

	require.NoError(t, os.WriteFile(path, packed.Bytes()[:packed.Len()-12], 0o600))
	o.SkipBadRows = true
	_, _, err = run(t, o)
	require.Error(t, err, "a file cut short is no bad row")
	require.NoError(t, os.WriteFile(path, []byte{0x1F, 0x8B, 0}, 0o600))
	_, _, err = run(t, o)
	require.ErrorContains(t, err, "unpack")
}

// A source that resumes delivers what it would have delivered without the break, qualities included.
func TestResumeAfterAnInstant(t *testing.T) {
	text := "time,temp,rh\n2026-01-12 08:30:00,20,50\n2026-01-12 08:31:00,60,50\n2026-01-12 08:32:00,60.5,50\n2026-01-12 08:33:00,20,50\n"
	whole, _, err := run(t, bench(text))
	require.NoError(t, err)
	require.Equal(t, []sensors.Fault{0, sensors.Jumped, 0, sensors.Jumped},
		[]sensors.Fault{whole[0].Temp.Fault, whole[1].Temp.Fault, whole[2].Temp.Fault, whole[3].Temp.Fault})
	for i, r := range whole {
		o := bench(text)
		o.After = r.At
		rest, _, err := run(t, o)
		require.NoError(t, err)
		require.Equal(t, len(whole)-i-1, len(rest))
		require.ElementsMatch(t, whole[i+1:], rest)
	}
}

func TestPacedDelivery(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := bench("")
		o.Reader, o.Path = nil, "testdata/good.csv"
		o.Clock = sensors.NewFastClock(time.Date(2026, 1, 12, 8, 30, 0, 0, time.UTC), 60)
		began := time.Now()
		got, _, err := run(t, o)
		require.NoError(t, err)
		require.Len(t, got, 5)
		require.Equal(t, 5*time.Second, time.Since(began))
	})
}

func TestRunEndsWithItsContext(t *testing.T) {
	o := bench("time,temp,rh\n2026-01-12 08:30:00,20,50\n")
	s, err := recorded.New(o)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, s.Run(ctx, make(chan sensors.Reading)), context.Canceled)
}

func TestSeveralProbesInOneFile(t *testing.T) {
	o := bench("\uFEFFtime;bench t;shelf t;shelf rh\n2026-01-12 08:30:00;20;NA;50\n2026-01-12 08:31:00; 20.1 ;15;51\n")
	o.Comma, o.NoValue = ';', []string{"NA"}
	o.Probes = []recorded.Probe{{Name: "bench", TempColumn: "bench t"}, {Name: "shelf", TempColumn: "shelf t", HumidityColumn: "shelf rh"}}
	got, _, err := run(t, o)
	require.NoError(t, err)
	require.Len(t, got, 4)
	require.Equal(t, []string{"bench", "shelf", "bench", "shelf"}, []string{got[0].Probe, got[1].Probe, got[2].Probe, got[3].Probe})
	require.Equal(t, sensors.Measure{}, got[1].Temp)
	require.Equal(t, 20.1, got[2].Temp.Value)
}

func TestNothingIsGuessed(t *testing.T) {
	for want, change := range map[string]func(*recorded.Options){
		"no path":                    func(o *recorded.Options) { o.Path, o.Reader = "", nil },
		"no probe":                   func(o *recorded.Options) { o.Probes = nil },
		"has no name":                func(o *recorded.Options) { o.Probes[0].Name = "" },
		"has no column":              func(o *recorded.Options) { o.Probes[0] = recorded.Probe{Name: "bench"} },
		"time column":                func(o *recorded.Options) { o.TimeColumn = "" },
		"time layout":                func(o *recorded.Options) { o.TimeLayout = "" },
		"without a zone":             func(o *recorded.Options) { o.Zone = nil },
		"temperature unit":           func(o *recorded.Options) { o.TempUnit = 0 },
		"humidity unit is not":       func(o *recorded.Options) { o.HumidityUnit = 0 },
		"humidity unit is not given": func(o *recorded.Options) { o.HumidityUnit = 9 },
	} {
		o := bench("")
		change(&o)
		_, err := recorded.New(o)
		require.ErrorContains(t, err, want)
	}
	o := bench("time,temp\n")
	_, _, err := run(t, o)
	require.ErrorContains(t, err, `no column "rh"; it has time, temp`)
	_, _, err = run(t, bench(""))
	require.ErrorContains(t, err, "header")
	o.Reader, o.Path = nil, filepath.Join(t.TempDir(), "none.csv")
	_, _, err = run(t, o)
	require.ErrorIs(t, err, os.ErrNotExist)
}

func FuzzRows(f *testing.F) {
	good, err := os.ReadFile("testdata/good.csv")
	require.NoError(f, err)
	f.Add(string(good), uint8(0))
	for _, row := range table(f, "testdata/bad.csv") {
		f.Add("time,temp,rh\n2026-01-12 08:30:00,20,50\n"+row["row"]+"\n", uint8(1))
	}
	f.Add("time,temp,rh\n1768203000,20,50\n1768203000.5,1e308,-0\n", uint8(3))
	f.Add("\x1f\x8b\x08", uint8(0))
	f.Fuzz(func(t *testing.T, text string, how uint8) {
		o := bench(text)
		o.SkipBadRows = how&1 != 0
		if how&2 != 0 {
			o.TimeLayout = recorded.Unix
		}
		o.Unjudged = how&4 != 0
		if how&8 != 0 {
			o.TempUnit = recorded.Fahrenheit
		}
		got, _, _ := run(t, o)
		last := time.Time{}
		for _, r := range got {
			require.True(t, r.At.After(last))
			last = r.At
			require.True(t, r.Temp.Quality != sensors.Missing || r.Humidity.Quality != sensors.Missing)
			require.Equal(t, r, r.Rounded())
			require.False(t, r.Humidity.OK() && !o.Unjudged && (r.Humidity.Value < 0 || r.Humidity.Value > 1))
		}
	})
}

func BenchmarkRun(b *testing.B) {
	var text strings.Builder
	text.WriteString("time,temp,rh\n")
	begin := time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC)
	for i := range 1440 {
		fmt.Fprintf(&text, "%s,%.2f,%.1f\n", begin.Add(time.Duration(i)*time.Minute).Format(time.DateTime), 20+float64(i%50)/100, 50.0)
	}
	b.ReportAllocs()
	for range b.N {
		s, err := recorded.New(bench(text.String()))
		require.NoError(b, err)
		out := make(chan sensors.Reading, 2000)
		require.NoError(b, s.Run(b.Context(), out))
		require.Len(b, out, 1440)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1440, "ns/row")
}
