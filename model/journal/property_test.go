package journal

import (
	"cmp"
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/sensors"
)

func drawMeasure(limit float64) *rapid.Generator[sensors.Measure] {
	return rapid.Custom(func(t *rapid.T) sensors.Measure {
		q := rapid.SampledFrom([]sensors.Quality{
			sensors.Good, sensors.Good, sensors.Good, sensors.Missing, sensors.Suspect, sensors.Bad}).Draw(t, "quality")
		m := sensors.Measure{Quality: q}
		if q != sensors.Missing || rapid.Bool().Draw(t, "odd") {
			m.Value = rapid.Float64Range(-limit, limit).Draw(t, "value")
		}
		if q != sensors.Good {
			m.Fault = rapid.SampledFrom(append(sensors.Faults(), sensors.NoFault)).Draw(t, "fault")
		}
		return m
	})
}

// drawReading draws readings of a few probes in a few hours, dense enough for equal instants.
func drawReading() *rapid.Generator[sensors.Reading] {
	return rapid.Custom(func(t *rapid.T) sensors.Reading {
		hour := rapid.IntRange(0, 4).Draw(t, "hour")
		past := time.Duration(rapid.SampledFrom([]int{0, 1, 999, 10_000, 10_001, 1_800_000, 3_599_999}).Draw(t, "ms"))
		if rapid.Bool().Draw(t, "free") {
			past = time.Duration(rapid.IntRange(0, 3_599_999).Draw(t, "ms"))
		}
		return sensors.Reading{
			Probe:    rapid.SampledFrom([]string{"pattern", "bench", "Werkbank ä", "shelf"}).Draw(t, "probe"),
			At:       noon.Add(time.Duration(hour)*time.Hour + past*time.Millisecond),
			Temp:     drawMeasure(1000).Draw(t, "temp"),
			Humidity: drawMeasure(2).Draw(t, "humidity"),
		}.Rounded()
	})
}

// ledger is the record as a person would keep it: the first reading of each probe and instant.
type ledger struct {
	readings []sensors.Reading
	marks    []model.Mark
}

func sameMoment(a, b sensors.Reading) int {
	return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Probe, b.Probe))
}

func (l *ledger) add(r sensors.Reading) {
	if r.Temp.Quality == sensors.Missing && r.Humidity.Quality == sensors.Missing {
		return
	}
	if i, taken := slices.BinarySearchFunc(l.readings, r, sameMoment); !taken {
		l.readings = slices.Insert(l.readings, i, r)
	}
}

func (l *ledger) between(probe string, from, to time.Time) []sensors.Reading {
	out := []sensors.Reading{}
	for _, r := range l.readings {
		if (probe == "" || r.Probe == probe) && !r.At.Before(from) && r.At.Before(to) {
			out = append(out, r)
		}
	}
	return out
}

func drawMark(marks []model.Mark) *rapid.Generator[model.Mark] {
	return rapid.Custom(func(t *rapid.T) model.Mark {
		text := rapid.String()
		m := model.Mark{
			Kind: rapid.SampledFrom(model.MarkKinds()).Draw(t, "kind"), Mold: text.Draw(t, "mold"),
			At:      noon.Add(time.Duration(rapid.Int64Range(-1e15, 1e15).Draw(t, "at"))),
			Entered: noon.Add(time.Duration(rapid.Int64Range(-1e15, 1e15).Draw(t, "entered"))),
			Title:   text.Draw(t, "title"), Place: text.Draw(t, "place"), Surface: text.Draw(t, "surface"),
			Material: text.Draw(t, "material"), Note: text.Draw(t, "note"),
			Of:    rapid.SampledFrom([]model.Subject{"", model.Cup, model.Patch, model.Mold, model.Coat}).Draw(t, "of"),
			Found: rapid.SampledFrom([]model.Finding{"", model.Tacky, model.Firm}).Draw(t, "found"),
			Build: model.Build{
				Pattern: text.Draw(t, "pattern"), PatternMM: rapid.Float64().Draw(t, "pattern mm"),
				RubberMM: rapid.Float64().Draw(t, "rubber mm"),
				Shell:    text.Draw(t, "shell"), ShellMM: rapid.Float64().Draw(t, "shell mm"), ProbeIn: text.Draw(t, "probe in"),
			},
		}
		if len(marks) > 0 && rapid.Bool().Draw(t, "correction") {
			m.Corrects = rapid.SampledFrom(marks).Draw(t, "corrects").ID
		}
		return m
	})
}

// Whatever is appended, flushed, closed and opened again in whatever order: what comes back is what
// went in, to the last bit.
func TestRecordIsWhatWentIn(t *testing.T) {
	dir, n := t.TempDir(), 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		path := filepath.Join(dir, fmt.Sprintf("%d.journal", n))
		ctx := context.Background()
		j, err := Open(ctx, path, Options{})
		require.NoError(t, err)
		defer func() { require.NoError(t, j.Close(ctx)) }()
		var want ledger
		t.Repeat(map[string]func(*rapid.T){
			"append": func(t *rapid.T) {
				for _, r := range rapid.SliceOfN(drawReading(), 1, 30).Draw(t, "readings") {
					require.NoError(t, j.AppendReading(r))
					want.add(r)
				}
			},
			"flush": func(t *rapid.T) {
				require.NoError(t, j.Flush(ctx))
				require.Zero(t, j.Waiting())
			},
			"mark": func(t *rapid.T) {
				m, err := j.AppendMark(ctx, drawMark(want.marks).Draw(t, "mark"))
				require.NoError(t, err)
				require.Zero(t, j.Waiting())
				want.marks = append(want.marks, m)
			},
			"reopen": func(t *rapid.T) {
				require.NoError(t, j.Close(ctx))
				j, err = Open(ctx, path, Options{})
				require.NoError(t, err)
			},
			"query": func(t *rapid.T) {
				from := noon.Add(time.Duration(rapid.IntRange(-3600, 5*3600).Draw(t, "from")) * time.Second)
				to := from.Add(time.Duration(rapid.IntRange(-10, 5*3600).Draw(t, "length")) * time.Second)
				got, err := collect(j, from, to)
				require.NoError(t, err)
				require.Equal(t, want.between("", from, to), append([]sensors.Reading{}, got...))
				probe := rapid.SampledFrom([]string{"pattern", "bench", "Werkbank ä", "not there"}).Draw(t, "probe")
				got, err = j.Trace(ctx, probe, from, to)
				require.NoError(t, err)
				require.Equal(t, want.between(probe, from, to), append([]sensors.Reading{}, got...))
			},
			"marks": func(t *rapid.T) { checkMarks(t, j, want) },
			"ends":  func(t *rapid.T) { checkEnds(t, j, want) },
			"":      func(t *rapid.T) { checkReadings(t, j, want) },
		})
	})
}

func checkReadings(t *rapid.T, j *Journal, want ledger) {
	got, err := collect(j, time.Time{}, noon.AddDate(9000, 0, 0))
	require.NoError(t, err)
	require.Equal(t, want.readings, got)
}

func checkMarks(t *rapid.T, j *Journal, want ledger) {
	marks, err := j.Marks(context.Background())
	require.NoError(t, err)
	require.Equal(t, want.marks, marks)
}

func checkEnds(t *rapid.T, j *Journal, want ledger) {
	ctx := context.Background()
	first, last, err := j.Span(ctx)
	require.NoError(t, err)
	bench, err := j.LastOf(ctx, "bench")
	require.NoError(t, err)
	if len(want.readings) == 0 {
		require.True(t, first.IsZero() && last.IsZero() && bench.IsZero())
		return
	}
	require.Equal(t, want.readings[0].At, first)
	require.Equal(t, want.readings[len(want.readings)-1].At, last)
	wantBench := time.Time{}
	for _, r := range want.between("bench", time.Time{}, last.Add(1)) {
		wantBench = r.At
	}
	require.Equal(t, wantBench, bench)
}
