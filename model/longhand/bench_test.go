package longhand_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/journal"
	"pourward/model/longhand"
	"pourward/sensors"
)

// week is what two probes say in a week, each every ten seconds.
func week() *notebook {
	n := &notebook{probes: []string{"bench", "pattern"}}
	for i := range 7 * 8640 {
		wave := math.Sin(2 * math.Pi * float64(i) / 8640)
		for k, probe := range n.probes {
			n.readings = append(n.readings, sensors.Reading{
				Probe: probe, At: noon().Add(time.Duration(i)*10*time.Second + time.Duration(k*20)*time.Millisecond),
				Temp: sensors.GoodMeasure(15 + 4*wave), Humidity: sensors.GoodMeasure(0.6 - 0.1*wave),
			}.Rounded())
		}
	}
	return n
}

func perSecond(b *testing.B, readings int) {
	b.ReportMetric(float64(readings)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}

// benchWeek is a journal with a week in it.
func benchWeek(b *testing.B) (*journal.Journal, *notebook) {
	ctx, n := context.Background(), week()
	j, err := journal.Open(ctx, filepath.Join(b.TempDir(), "week.journal"), journal.Options{})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, j.Close(ctx)) })
	for i, r := range n.readings {
		require.NoError(b, j.AppendReading(r))
		if i%50_000 == 0 {
			require.NoError(b, j.Flush(ctx))
		}
	}
	require.NoError(b, j.Flush(ctx))
	return j, n
}

func BenchmarkWrite(b *testing.B) {
	j, n := benchWeek(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := longhand.Write(context.Background(), io.Discard, j, noon()); err != nil {
			b.Fatal(err)
		}
	}
	perSecond(b, len(n.readings))
}

func BenchmarkReadIntoJournal(b *testing.B) {
	n := week()
	text := written(b, n)
	dir, i := b.TempDir(), 0
	b.ReportAllocs()
	for b.Loop() {
		i++
		err := journal.Restore(context.Background(), filepath.Join(dir, fmt.Sprint(i)), journal.Options{}, func(r *journal.Restored) error {
			_, err := longhand.Read(context.Background(), bytes.NewReader(text), r)
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	perSecond(b, len(n.readings))
	b.ReportMetric(float64(len(text))/float64(len(n.readings)), "textbytes/reading")
}
