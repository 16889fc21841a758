package journal

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

var noon = time.Date(2026, 1, 12, 12, 0, 0, 0, time.UTC)

// opened opens a journal that is closed when the test ends.
func opened(t testing.TB, path string, opts Options) *Journal {
	t.Helper()
	j, err := Open(context.Background(), path, opts)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, j.Close(context.Background())) })
	return j
}

func newPath(t testing.TB) string { return filepath.Join(t.TempDir(), "shop.journal") }

// benchReading is the i-th reading of an invented shop: some probes, one reading of each every ten seconds.
func benchReading(i, probes int) sensors.Reading {
	r := sensors.Reading{
		Probe:    fmt.Sprintf("probe %d", i%probes),
		At:       noon.Add(time.Duration(i/probes) * 10 * time.Second),
		Temp:     sensors.GoodMeasure(18 + float64(i*7919%400)/1000),
		Humidity: sensors.GoodMeasure(0.55 + float64(i*104729%60)/10000),
	}
	return r.Rounded()
}

func appendAll(t testing.TB, j *Journal, readings []sensors.Reading) {
	t.Helper()
	for _, r := range readings {
		require.NoError(t, j.AppendReading(r))
	}
}

// everything reads all readings back.
func everything(t testing.TB, j *Journal) []sensors.Reading {
	t.Helper()
	all, err := collect(j, time.Time{}, noon.AddDate(1000, 0, 0))
	require.NoError(t, err)
	return all
}

func collect(j *Journal, from, to time.Time) ([]sensors.Reading, error) {
	var all []sensors.Reading
	err := j.Readings(context.Background(), from, to, func(r sensors.Reading) error {
		all = append(all, r)
		return nil
	})
	return all, err
}

func shop(from, n, probes int) []sensors.Reading {
	out := make([]sensors.Reading, n)
	for i := range out {
		out[i] = benchReading(from+i, probes)
	}
	return out
}

func TestReadingsComeBackInOrder(t *testing.T) {
	ctx := context.Background()
	path := newPath(t)
	want := shop(0, 4000, 2) // five and a half hours
	j := opened(t, path, Options{})
	for i, r := range want {
		require.NoError(t, j.AppendReading(r))
		if i%12 == 11 && i < 3900 {
			require.NoError(t, j.Flush(ctx))
		}
	}
	require.Equal(t, want, everything(t, j), "with readings that wait")
	require.NotZero(t, j.Waiting())
	require.NoError(t, j.Close(ctx))

	again := opened(t, path, Options{})
	require.Zero(t, again.Waiting())
	require.Equal(t, want, everything(t, again), "opened again")
	reader := opened(t, path, Options{ReadOnly: true})
	require.Equal(t, want, everything(t, reader), "read while another keeps it")
}
