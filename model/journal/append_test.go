package journal

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

func TestReadingsThatAreNotKept(t *testing.T) {
	j := opened(t, newPath(t), Options{})
	require.NoError(t, j.AppendReading(sensors.Failed("bench", noon, errors.New("no answer"))))
	require.NoError(t, j.AppendReading(sensors.Reading{Probe: "bench", At: noon}), "nothing present")
	good := sensors.GoodMeasure(20)
	for wrong, r := range map[string]sensors.Reading{
		"names no probe":  {At: noon, Temp: good},
		"check the clock": {Probe: "bench", At: time.Date(1969, 12, 31, 23, 59, 59, 0, time.UTC), Temp: good},
		"outside 1970":    {Probe: "bench", At: time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC), Temp: good},
		"NaN °C":          {Probe: "bench", At: noon, Temp: sensors.GoodMeasure(math.NaN())},
		"+Inf":            {Probe: "bench", At: noon, Temp: good, Humidity: sensors.GoodMeasure(math.Inf(1))},
		"1e+300":          {Probe: "bench", At: noon, Temp: sensors.GoodMeasure(1e300)},
	} {
		require.ErrorContains(t, j.AppendReading(r), wrong)
	}
	require.Zero(t, j.Waiting())
	require.Empty(t, everything(t, j))
}

func TestReadingsOffTheGridAreRounded(t *testing.T) {
	j := opened(t, newPath(t), Options{})
	zone := time.FixedZone("east", 3600)
	r := sensors.Reading{Probe: "bench", At: noon.Add(1234567 * time.Nanosecond).In(zone),
		Temp: sensors.GoodMeasure(20.00049), Humidity: sensors.GoodMeasure(0.51236)}
	require.NoError(t, j.AppendReading(r))
	require.NoError(t, j.Flush(context.Background()))
	require.Equal(t, []sensors.Reading{r.Rounded()}, everything(t, j))
}

func TestFirstOfTwoReadingsOfAnInstantIsKept(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	first := sensors.Reading{Probe: "bench", At: noon, Temp: sensors.GoodMeasure(20)}
	second := sensors.Reading{Probe: "bench", At: noon, Temp: sensors.GoodMeasure(21)}
	later := sensors.Reading{Probe: "bench", At: noon.Add(3 * time.Hour), Temp: sensors.GoodMeasure(22)}
	want := []sensors.Reading{first, later}
	appendAll(t, j, []sensors.Reading{first, second, later})
	require.Equal(t, want, everything(t, j), "waiting")
	require.NoError(t, j.Flush(ctx))
	require.Equal(t, 1, rowsOf(t, j, "blocks"))

	later2 := sensors.Reading{Probe: "bench", At: noon.Add(9 * time.Hour), Temp: sensors.GoodMeasure(23)}
	want = append(want, later2)
	require.NoError(t, j.AppendReading(second))
	require.Equal(t, want[:2], everything(t, j), "the first is packed, the second waits")
	require.NoError(t, j.AppendReading(later2))
	require.NoError(t, j.Flush(ctx))
	require.Equal(t, want, everything(t, j), "merged")
}

func TestCorrectedMarkMustExist(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	m, err := j.AppendMark(ctx, markOf("at noon"))
	require.NoError(t, err)
	_, err = j.AppendMark(ctx, m)
	require.ErrorContains(t, err, "it is mark 1 already")
	wrong := markOf("twenty minutes earlier")
	wrong.Corrects = 7
	_, err = j.AppendMark(ctx, wrong)
	require.ErrorContains(t, err, "there is no mark 7 to correct")
	wrong.Corrects = 1
	m, err = j.AppendMark(ctx, wrong)
	require.NoError(t, err)
	require.EqualValues(t, 2, m.ID)
}

// A clock that jumps ahead and back neither stops the packing nor packs every flush anew.
func TestClockThatJumps(t *testing.T) {
	ctx := context.Background()
	j := opened(t, newPath(t), Options{})
	all := shop(0, 720, 2)
	appendAll(t, j, all)
	require.NoError(t, j.Flush(ctx))
	jumped := sensors.Reading{Probe: "probe 0", At: time.Date(2038, 1, 19, 3, 14, 8, 0, time.UTC), Temp: sensors.GoodMeasure(9)}
	require.NoError(t, j.AppendReading(jumped))
	require.NoError(t, j.Flush(ctx))
	more := shop(720, 720, 2)
	for _, r := range more {
		require.NoError(t, j.AppendReading(r))
		require.NoError(t, j.Flush(ctx))
	}
	require.Equal(t, append(append(all, more...), jumped), everything(t, j))
	require.Equal(t, 3, rowsOf(t, j, "blocks"))
	require.Equal(t, 720, rowsOf(t, j, "tail"))
}
