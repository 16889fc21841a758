package sensors

import (
	"context"
	"fmt"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestZeroValuesAreMissing(t *testing.T) {
	var r Reading
	require.False(t, r.Temp.OK())
	require.Equal(t, Missing, r.Temp.Quality)
	require.Equal(t, "missing", r.Temp.Quality.String())
	require.Equal(t, "quality(9)", Quality(9).String())
}

// The record keeps a reading to the last bit: rounding again changes nothing and never moves a value
// by more than half a step.
func TestRounding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Reading{
			At:       time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "s"), rapid.Int64Range(0, 999999999).Draw(t, "ns")),
			Temp:     GoodMeasure(rapid.Float64Range(-100, 200).Draw(t, "temp")),
			Humidity: GoodMeasure(rapid.Float64Range(0, 1).Draw(t, "rh")),
		}
		once := r.Rounded()
		require.Equal(t, once, once.Rounded())
		require.InDelta(t, r.Temp.Value, once.Temp.Value, TempStep/2+1e-12)
		require.InDelta(t, r.Humidity.Value, once.Humidity.Value, HumidityStep/2+1e-12)
		require.WithinDuration(t, r.At, once.At, TimeStep)
	})
}

func TestFaults(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range Faults() {
		require.NotEqual(t, NoFault, f)
		require.False(t, seen[f.String()], f)
		seen[f.String()] = true
	}
	require.Len(t, seen, 11)
	require.Equal(t, "fault(200)", Fault(200).String())

	require.Equal(t, NoFault, FaultOf(nil))
	require.Equal(t, Timeout, FaultOf(fmt.Errorf("test: %w", context.DeadlineExceeded)))
	require.Equal(t, OtherFault, FaultOf(io.EOF))
	err := fmt.Errorf("test: %w", &FaultError{Fault: BusError, Doing: "read bench", Cause: io.EOF})
	require.Equal(t, BusError, FaultOf(err))
	require.ErrorIs(t, err, io.EOF)
	require.EqualError(t, err, "test: read bench: bus: EOF")
	require.EqualError(t, &FaultError{Fault: Stuck, Doing: "read bench"}, "read bench: stuck")
}

func TestClocks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for name, c := range map[string]struct {
			clock Clock
			real  time.Duration // that an hour takes
		}{
			"real": {RealClock{}, time.Hour},
			"fast": {NewFastClock(noon, 120), 30 * time.Second},
		} {
			began, start := time.Now(), c.clock.Now()
			require.NoError(t, c.clock.Wait(t.Context(), start.Add(time.Hour)), name)
			require.InDelta(t, c.real.Seconds(), time.Since(began).Seconds(), 1e-6, name)
			require.WithinDuration(t, start.Add(time.Hour), c.clock.Now(), time.Millisecond, name)
			require.NoError(t, c.clock.Wait(t.Context(), start), "it has passed already")
			ctx, cancel := context.WithCancel(t.Context())
			cancel()
			require.ErrorIs(t, c.clock.Wait(ctx, start.Add(2*time.Hour)), context.Canceled, name)
			require.ErrorIs(t, c.clock.Wait(ctx, start), context.Canceled, name)
		}
	})
}
