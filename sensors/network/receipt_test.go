package network

import (
	"context"
	"errors"
	"fmt"
	"net/http/httptest"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// A request is answered once the shop loop has its readings, and with the preference to wait (RFC 7240,
// 4.3) once they are safe: not before, and not at all as if they were when they are not.
func TestWhenARequestIsAnswered(t *testing.T) {
	const body = `{"probe": "bench", "temperature": 20, "sequence": 1}`
	for _, c := range []struct {
		prefer string
		safe   bool // asked for
		settle error
		never  bool // the shop loop is stuck
		within time.Duration
		status int
	}{
		{status: 202},
		{prefer: "respond-async", status: 202},
		{prefer: "wait=10", safe: true, status: 200},
		{prefer: `handling=lenient, Wait="5"`, safe: true, status: 200},
		{prefer: "wait=soon", status: 202},
		{prefer: "wait=10", safe: true, settle: errors.New("the disk is full"), status: 503},
		{never: true, within: usualAnswer, status: 503},
		{prefer: "wait=3", safe: true, never: true, within: 3 * time.Second, status: 503},
		{prefer: "wait=9999", safe: true, never: true, within: longestAnswer, status: 503},
	} {
		synctest.Test(t, func(t *testing.T) {
			p, begun := newPush(t, pushOptions()), time.Now()
			w, r := httptest.NewRecorder(), pushing(body)
			r.Header.Set("Prefer", c.prefer)
			done := make(chan struct{})
			go func() {
				defer close(done)
				p.ServeHTTP(w, r)
			}()
			require.Equal(t, 20.0, (<-p.queue).Temp.Value)
			receipt := (<-p.queue).Receipt
			require.Equal(t, c.safe, receipt.Safe)
			synctest.Wait()
			select {
			case <-done:
				require.Fail(t, "it is answered before the reading has arrived")
			default:
			}
			if !c.never {
				receipt.Settle(c.settle)
			}
			<-done
			require.Equal(t, c.status, w.Code, "%+v %s", c, w.Body)
			require.Equal(t, c.within, time.Since(begun), c)
			if c.settle != nil {
				require.Contains(t, w.Body.String(), "the disk is full")
				require.NotEmpty(t, w.Header().Get("Retry-After"))
			}
		})
	}
}

// A request that is under way when the source ends is told so.
func TestEndWhileARequestWaits(t *testing.T) {
	p := newPush(t, pushOptions())
	ctx, cancel := context.WithCancel(t.Context())
	out, ended := make(chan sensors.Reading), make(chan error, 1)
	go func() { ended <- p.Run(ctx, out) }()
	w, done := httptest.NewRecorder(), make(chan struct{})
	go func() {
		defer close(done)
		p.ServeHTTP(w, pushing(`{"probe": "bench", "temperature": 20}`))
	}()
	<-out
	cancel()
	<-ended
	<-done
	require.Equal(t, 503, w.Code)
	require.Contains(t, w.Body.String(), "being closed")
}

// The broker hears of a message only when what it said has arrived: with messages that it keeps for the
// shop, only when that is safe. What a shop had not acknowledged when it crashed comes again.
func TestWhatIsNotAcknowledgedComesAgain(t *testing.T) {
	t.Parallel()
	for _, keep := range []time.Duration{0, time.Hour} {
		b := startBroker(t, "allow_anonymous true", "max_queued_messages 0")
		p := probeOf("bench")
		p.Format.Time, p.Format.Sequence, p.TrustTime = "at", "n", true
		o := MQTTOptions{Broker: b.url(), Probes: []MQTTProbe{p}, KeepFor: keep, ClientID: "shop"}
		const n = 40 // more than the broker sends at once unless it is told that it may
		s := newSender(t, b, "")
		crashed := runAcknowledging(t, o, func(r *sensors.Receipt, i int) {
			require.Equal(t, keep > 0, r.Safe)
			if keep == 0 || i < n/2 {
				r.Settle(nil)
			} else {
				r.Settle(errors.New("the disk is full"))
			}
		}, func() {
			for i := range n {
				s.send("shop/bench", fmt.Sprintf(`{"t": %d, "n": %d, "at": %q}`, 20+i%5, i, time.Now().Add(time.Duration(i)*time.Millisecond).Format(time.RFC3339Nano)))
			}
		}, n)
		require.Len(t, crashed, n)
		if keep == 0 {
			continue
		}
		again := runAcknowledging(t, o, func(r *sensors.Receipt, _ int) { r.Settle(nil) }, func() {}, n/2)
		require.Equal(t, crashed[n/2:], again, "what was not safe, and only that")
		again = runAcknowledging(t, o, func(r *sensors.Receipt, _ int) { r.Settle(nil) }, func() {
			s.send("shop/bench", fmt.Sprintf(`{"t": 30, "n": %d, "at": %q}`, n, time.Now().Add(time.Second).Format(time.RFC3339Nano)))
		}, 1)
		require.True(t, again[0].After(crashed[n-1]), "and then nothing old")
	}
}

// runAcknowledging runs a source until a number of readings and their receipts have come. It returns the
// instants of the readings.
func runAcknowledging(t *testing.T, o MQTTOptions, settle func(*sensors.Receipt, int), send func(), n int) (all []time.Time) {
	t.Helper()
	m := newMQTT(t, o)
	ctx, cancel := context.WithCancel(t.Context())
	out, done := make(chan sensors.Reading), make(chan error, 1)
	go func() { done <- m.Run(ctx, out) }()
	soon(t, "the source is connected", m.Connected)
	send()
	for receipts := 0; receipts < n; {
		select {
		case r := <-out:
			if r.Receipt != nil {
				settle(r.Receipt, receipts)
				receipts++
				continue
			}
			require.NoError(t, r.Err)
			all = append(all, r.At)
		case <-time.After(20 * time.Second):
			require.FailNow(t, "too little comes", "%d readings, %d receipts", len(all), receipts)
		}
	}
	<-time.After(300 * time.Millisecond) // for the acknowledgments to leave
	cancel()
	<-done
	return all
}
