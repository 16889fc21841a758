package sensors

import (
	"context"
	"errors"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

func TestPollerSurvivesACallThatHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		free := make(chan struct{})
		hangs := func(context.Context) (Sample, error) {
			<-free
			return Sample{TempC: 99, Humidity: math.NaN()}, nil
		}
		p := &Poller{Probes: []Polled{
			{Name: "bench", Every: time.Minute, Deadline: 5 * time.Second, Open: b.opener(inTurn(gives(20), gives(20), hangs, gives(20)))},
			{Name: "shelf", Every: time.Minute, Open: b.opener(inTurn(gives(15)))},
		}}
		go func() {
			time.Sleep(10 * time.Minute)
			close(free)
		}()
		start := time.Now()
		got := collect(t, p, 40)
		blocked := map[string]int{}
		for _, r := range got {
			since := r.At.Sub(start)
			if r.Err != nil {
				require.Equal(t, Timeout, FaultOf(r.Err))
				blocked[r.Probe]++
			}
			if since > 70*time.Second && since < 10*time.Minute {
				require.Error(t, r.Err, "nothing else runs on the bus while it is held")
			}
			require.NotEqual(t, 99.0, r.Temp.Value, "what comes back too late is not used")
		}
		require.NoError(t, got[38].Err)
		require.NoError(t, got[39].Err)
		require.Greater(t, blocked["bench"], 3)
		require.Greater(t, blocked["shelf"], 3)
		b.everyOneClosed()
	})
}

func TestPollerEndsThoughACallHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		free := make(chan struct{})
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		err := (&Poller{Probes: []Polled{{Name: "bench", Open: b.opener(inTurn(func(context.Context) (Sample, error) {
			<-free
			return Sample{}, nil
		}))}}}).Run(ctx, make(chan Reading))
		require.ErrorIs(t, err, context.DeadlineExceeded)
		close(free)
		synctest.Wait()
		b.everyOneClosed()
	})
}

func TestPollerEndsAMeasurementAtItsDeadline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		got := collect(t, &Poller{Probes: []Polled{{Name: "bench", Open: b.opener(inTurn(func(ctx context.Context) (Sample, error) {
			<-ctx.Done()
			return Sample{}, ctx.Err()
		}))}}}, 2)
		require.Equal(t, []Fault{Timeout, Timeout}, faults(got))
		require.InDelta(t, 11, seconds(got)[1], 0.21, "10 s unless told otherwise, and one of back-off")
	})
}

func TestPollerReportsAProbeThatDoesNotOpen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		refused := errors.New("the kernel owns it")
		got := collect(t, &Poller{Probes: []Polled{{Name: "bench", Open: func(context.Context) (Probe, error) { return nil, refused }}}}, 2)
		require.ErrorIs(t, got[1].Err, refused)
		require.Equal(t, OtherFault, got[1].Temp.Fault)
	})
}

func TestPollerRefusesASampleWithoutValues(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		got := collect(t, &Poller{Probes: []Polled{{Name: "bench", Open: b.opener(inTurn(gives(math.NaN())))}}}, 1)
		require.Equal(t, Malformed, FaultOf(got[0].Err))
	})
}

func TestPollerSurvivesADriverThatPanics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t}
		got := collect(t, &Poller{Probes: []Polled{{Name: "bench", Open: b.opener(inTurn(
			func(context.Context) (Sample, error) { panic("index out of range") }, gives(20), gives(20)))}}}, 3)
		require.ErrorContains(t, got[0].Err, "index out of range")
		require.True(t, got[2].Temp.OK())
		b.everyOneClosed()
	})
}
