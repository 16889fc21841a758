package report_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/report"
	"pourward/sensors"
)

// The report of the cold cure, out of a record of five weeks of one probe that speaks every ten seconds.
func BenchmarkRead(b *testing.B) {
	book := cold()
	book.readings = nil
	for at := morning().Add(-33 * 24 * time.Hour); at.Before(morning().Add(48 * time.Hour)); at = at.Add(10 * time.Second) {
		wave := math.Sin(at.Sub(morning()).Hours() / 24 * 2 * math.Pi)
		book.readings = append(book.readings, sensors.Reading{Probe: "air", At: at, Temp: sensors.GoodMeasure(18 + 4*wave)}.Rounded())
	}
	b.ReportAllocs()
	for b.Loop() {
		_, err := report.Read(b.Context(), past(book), "frieze", morning().Add(47*time.Hour))
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(book.readings)), "readings")
}
