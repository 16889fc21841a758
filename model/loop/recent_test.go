package loop_test

import (
	"cmp"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/loop"
	"pourward/sensors"
)

// In whatever order readings come, what lies within reach of the newest is there, once, in order.
func TestRecentReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const reach = time.Hour
		begin := time.Date(2026, 1, 14, 8, 0, 0, 0, time.UTC)
		r := loop.NewRecent(nil, reach)
		first := map[string]sensors.Reading{}
		var newest time.Time
		for i := range rapid.IntRange(1, 60).Draw(t, "readings") {
			x := sensors.Reading{
				Probe: rapid.SampledFrom([]string{"bench", "shelf", "pattern"}).Draw(t, "probe"),
				At:    begin.Add(time.Duration(rapid.IntRange(0, 150).Draw(t, "minute")) * time.Minute),
				Temp:  sensors.GoodMeasure(float64(i)),
			}
			require.NoError(t, r.AppendReading(x))
			key := fmt.Sprint(x.Probe, x.At)
			if _, twice := first[key]; !twice && !x.At.Before(newest.Add(-reach)) {
				first[key] = x
			}
			if x.At.After(newest) {
				newest = x.At
			}
		}
		from := begin.Add(time.Duration(rapid.IntRange(0, 150).Draw(t, "from")) * time.Minute)
		to := from.Add(time.Duration(rapid.IntRange(0, 150).Draw(t, "for")) * time.Minute)
		var want, got []sensors.Reading
		for _, x := range first {
			if !x.At.Before(from) && x.At.Before(to) && !x.At.Before(newest.Add(-reach)) {
				want = append(want, x)
			}
		}
		slices.SortFunc(want, func(a, b sensors.Reading) int {
			return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Probe, b.Probe))
		})
		require.NoError(t, r.Readings(t.Context(), from, to, func(x sensors.Reading) error {
			got = append(got, x)
			return nil
		}))
		require.Equal(t, want, got)
		_, last, err := r.Span(t.Context())
		require.NoError(t, err)
		require.Equal(t, newest, last)
	})
}

// Memory does not grow for ever.
func TestRecentForgets(t *testing.T) {
	const reach = time.Hour
	begin := time.Date(2026, 1, 14, 8, 0, 0, 0, time.UTC)
	r := loop.NewRecent(nil, reach)
	last := begin.Add(100_000 * time.Second)
	for at := begin; !at.After(last); at = at.Add(time.Second) {
		require.NoError(t, r.AppendReading(sensors.Reading{Probe: "bench", At: at, Temp: sensors.GoodMeasure(20)}))
	}
	require.NoError(t, r.AppendReading(sensors.Reading{Probe: "bench", At: begin, Temp: sensors.GoodMeasure(20)}))
	require.NoError(t, r.AppendReading(sensors.Reading{Probe: "bench", At: last.Add(time.Second)}), "nothing was measured")
	first, newest, err := r.Span(t.Context())
	require.NoError(t, err)
	require.Equal(t, []time.Time{last.Add(-reach), last}, []time.Time{first, newest})
	all, err := r.Trace(t.Context(), "bench", begin, last.Add(time.Hour))
	require.NoError(t, err)
	require.Len(t, all, 3601)
}
