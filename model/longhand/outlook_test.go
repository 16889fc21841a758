package longhand_test

import (
	"bytes"
	"context"
	"encoding/gob"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/model/journal"
	"pourward/model/longhand"
	"pourward/model/loop"
	"pourward/sensors"
)

func setup() model.Setup {
	return model.Setup{
		Places: []string{"bench", "pattern"},
		Probes: []model.Probe{{Name: "air", Place: "bench", Every: 10 * time.Minute}, {Name: "skin", Place: "pattern", Every: 10 * time.Minute}},
	}
}

// standing is a clock that shows one instant.
type standing struct{ at time.Time }

func (s standing) Now() time.Time                              { return s.at }
func (s standing) Wait(ctx context.Context, _ time.Time) error { <-ctx.Done(); return ctx.Err() }

// outlook is what a daemon that is started on a journal at an instant tells first, in bytes: bit for bit, and NaN
// equal to itself.
func outlook(t require.TestingT, j *journal.Journal, at time.Time) (told []byte, molds int) {
	l, err := loop.New(context.Background(), loop.Options{Setup: setup(), Record: j, Clock: standing{at}})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, gob.NewEncoder(&out).Encode(l.Snapshot().Outlook))
	return out.Bytes(), len(l.Snapshot().Outlook.Molds)
}

// live lets a shop run for a day: temperatures wander, probes fail, marks come late and are corrected.
func live(t *rapid.T, j *journal.Journal) (last time.Time) {
	ctx := context.Background()
	judge, err := model.NewShop(setup())
	require.NoError(t, err)
	tempC := rapid.Float64Range(5, 25).Draw(t, "begins at")
	steps := rapid.IntRange(20, 150).Draw(t, "readings")
	now, marks := noon(), int64(0)
	for range steps {
		now = now.Add(10 * time.Minute)
		tempC += rapid.Float64Range(-0.5, 0.5).Draw(t, "change")
		for _, probe := range []string{"air", "skin"} {
			r := sensors.Reading{Probe: probe, At: now, Temp: sensors.GoodMeasure(tempC)}
			switch rapid.IntRange(0, 20).Draw(t, "fate") {
			case 0:
				continue
			case 1:
				r.Temp.Quality, r.Temp.Fault = sensors.Suspect, sensors.Jumped
			case 2:
				r.Temp = sensors.Measure{Quality: sensors.Bad, Fault: sensors.BadChecksum}
			}
			if probe == "air" {
				r.Humidity = drawMeasure(1).Draw(t, "humidity")
			}
			require.NoError(t, j.AppendReading(r))
		}
		if rapid.IntRange(0, 6).Draw(t, "is there a mark") == 0 {
			m := drawWork(now, marks).Draw(t, "mark")
			if judge.Accept(m) != nil {
				continue
			}
			m, err := j.AppendMark(ctx, m)
			require.NoError(t, err)
			require.NoError(t, judge.Mark(m))
			marks = m.ID
		}
	}
	require.NoError(t, j.Flush(ctx))
	return now
}

// drawWork draws what a maker may enter; whether it makes sense is for the shop to say.
func drawWork(now time.Time, marks int64) *rapid.Generator[model.Mark] {
	return rapid.Custom(func(t *rapid.T) model.Mark {
		m := model.Mark{
			Kind: rapid.SampledFrom(model.MarkKinds()).Draw(t, "kind"), Mold: rapid.SampledFrom([]string{"frieze", "volute"}).Draw(t, "mold"),
			Entered: now, At: now.Add(-time.Duration(rapid.IntRange(0, 90).Draw(t, "minutes late")) * time.Minute),
		}
		switch m.Kind {
		case model.Begun:
			m.Place, m.Surface, m.Material = "bench", rapid.SampledFrom([]string{"", "pattern"}).Draw(t, "surface"), "platinum-slow"
		case model.Moved:
			m.Place = rapid.SampledFrom(setup().Places).Draw(t, "to")
		case model.PatchOn:
			m.Place, m.Material, m.Face, m.Prep = "bench", "platinum-slow", "plaster", []string{"lacquer"}
		case model.CoatOn:
			m.Material = "lacquer"
		case model.ReleaseOn:
			m.Material = "wax-naphtha"
		case model.Checked:
			m.Of, m.Found = rapid.SampledFrom([]model.Subject{model.Cup, model.Patch}).Draw(t, "of"), rapid.SampledFrom(model.Findings()).Draw(t, "found")
		}
		if marks > 0 && (m.Kind == model.Withdrawn || rapid.IntRange(0, 5).Draw(t, "corrects") == 0) {
			m.Corrects = rapid.Int64Range(1, marks).Draw(t, "which")
		}
		return m
	})
}

// A journal that was written out and read in again tells the same at every instant.
func TestSameOutlook(t *testing.T) {
	ctx, dir, n, told := context.Background(), t.TempDir(), 0, 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		path := filepath.Join(dir, fmt.Sprintf("%d.journal", n))
		old, err := journal.Open(ctx, path, journal.Options{})
		require.NoError(t, err)
		defer func() { require.NoError(t, old.Close(ctx)) }()
		last := live(t, old)
		require.NoError(t, journal.Restore(ctx, path+".new", journal.Options{}, func(r *journal.Restored) error {
			_, err := longhand.Read(ctx, bytes.NewReader(textOf(t, old)), r)
			return err
		}))
		fresh, err := journal.Open(ctx, path+".new", journal.Options{})
		require.NoError(t, err)
		defer func() { require.NoError(t, fresh.Close(ctx)) }()
		require.Equal(t, body(textOf(t, old)), body(textOf(t, fresh)), "and is written out the same")
		for range 3 {
			at := last.Add(time.Duration(rapid.IntRange(-300, 5000).Draw(t, "minutes after")) * time.Minute)
			want, molds := outlook(t, old, at)
			got, _ := outlook(t, fresh, at)
			require.Equal(t, want, got)
			told += molds
		}
	})
	require.Positive(t, told, "molds were told of")
}

func textOf(t require.TestingT, j *journal.Journal) []byte {
	var out bytes.Buffer
	_, err := longhand.Write(context.Background(), &out, j, noon())
	require.NoError(t, err)
	return out.Bytes()
}

// body is a longhand without its header, which says when it was written.
func body(text []byte) string { return string(text[bytes.IndexByte(text, '\n'):]) }
