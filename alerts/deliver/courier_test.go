package deliver

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/sensors"
)

// box is a sender that keeps what it is given.
type box struct {
	mu    sync.Mutex
	now   func() time.Time
	fail  error
	hangs bool
	tries int
	got   []Message
	at    []time.Time
}

func (b *box) send(ctx context.Context, m *Message) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.tries++
	if b.hangs {
		<-ctx.Done()
		return ctx.Err()
	}
	if b.fail != nil {
		return b.fail
	}
	b.got, b.at = append(b.got, *m), append(b.at, b.now())
	return nil
}

func (b *box) set(fail error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.fail = fail
}

func (b *box) tried() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.tries
}

func (b *box) titles() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := []string{}
	for _, m := range b.got {
		out = append(out, m.Title)
	}
	return out
}

// bubble runs a deliverer that sends to boxes in the bubble of a test, whose time begins at an instant.
func bubble(t *testing.T, begin time.Time, o Options, boxes map[string]*box) (d *Deliverer, end func()) {
	t.Helper()
	off := time.Until(begin)
	o.Now = func() time.Time { return time.Now().Add(off) }
	o.Shop, o.Log = "Annex", slog.New(slog.DiscardHandler)
	var couriers []*courier
	for name, b := range boxes {
		b.now = o.Now
		couriers = append(couriers, newCourier(name, ByMail, &messages{b}, o.Log))
	}
	d, err := open(t.Context(), o, couriers)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		_ = d.Run(ctx)
		close(ended)
	}()
	return d, func() {
		cancel()
		<-ended
		require.NoError(t, d.Close())
	}
}

func (d *Deliverer) tellNow(active ...alerts.Alert) {
	d.Tell(State{At: d.opts.Now(), Trusted: true, Active: active})
	synctest.Wait()
}

func (d *Deliverer) firing(name, mold string, severity alerts.Severity) alerts.Alert {
	return alerts.Alert{
		Name: name, Severity: severity, Labels: map[string]string{"mold": mold}, Since: d.opts.Now(),
		Summary: name + ".", Description: "It is so.", WhatToDo: "Look.",
	}
}

// The night in which summer time begins in Brussels (Directive 2000/84/EC: 29 March 2026, 01:00 UTC): seven in the
// morning is an hour earlier by the sun. Only the working life is told at night; what was held back comes as one
// message in the morning, without what ended by then.
func TestQuietNightOverAChangeOfClocks(t *testing.T) {
	brussels := zone(t, "Europe/Brussels")
	for _, night := range []struct {
		name          string
		evening, dawn time.Time // 21:00 and 07:00 on the wall
	}{
		{"summer time begins", time.Date(2026, 3, 28, 20, 0, 0, 0, time.UTC), time.Date(2026, 3, 29, 5, 0, 0, 0, time.UTC)},
		{"summer time ends", time.Date(2026, 10, 24, 19, 0, 0, 0, time.UTC), time.Date(2026, 10, 25, 6, 0, 0, 0, time.UTC)},
	} {
		t.Run(night.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := &box{}
				quiet := &Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: brussels}
				d, end := bubble(t, night.evening, Options{Zone: brussels, Quiet: quiet}, map[string]*box{"maker": b})
				defer end()
				damp := d.firing("Damp", "frieze", alerts.Warning)
				d.tellNow(damp)
				require.Equal(t, []string{"frieze: Damp."}, b.titles())

				time.Sleep(2 * time.Hour) // it is eleven
				cold, silent := d.firing("Cold", "frieze", alerts.Warning), d.firing("Silent", "frieze", alerts.Warning)
				d.tellNow(damp, cold, silent)
				over := d.firing("Over", "corbel", alerts.Critical)
				d.tellNow(damp, cold, silent, over)
				require.Equal(t, []string{"frieze: Damp.", "corbel: Over."}, b.titles(), "the cup does not wait")
				time.Sleep(2 * time.Hour)
				d.tellNow(cold, over) // it is dry, and the probe speaks again: nobody had heard of that
				ready := d.firing("Ready", "corbel", alerts.Info)
				d.tellNow(cold, over, ready)

				time.Sleep(night.dawn.Sub(d.opts.Now()) - time.Nanosecond)
				synctest.Wait()
				require.Len(t, b.got, 2)
				require.Equal(t, 3, d.Health()[0].Held)
				require.Zero(t, d.Health()[0].Waiting)
				time.Sleep(time.Nanosecond)
				synctest.Wait()
				require.Len(t, b.got, 3)
				require.Equal(t, night.dawn, b.at[2].UTC())
				m := b.got[2]
				require.Equal(t, Summary, m.Kind)
				require.Equal(t, "Annex: held back in the quiet hours: 2 began, 1 ended", m.Title)
				require.Equal(t, []string{"Cold", "Ready"}, []string{m.Began[0].Name, m.Began[1].Name})
				require.Equal(t, "Damp", m.Ended[0].Name)
				require.NotContains(t, m.Text, "Silent")
				require.Zero(t, d.Health()[0].Held)

				time.Sleep(14 * time.Hour) // until the evening
				synctest.Wait()
				require.Len(t, b.got, 3, "nothing is told again without news")
			})
		})
	}
}

// While the time of day is not known nobody can say that it is night.
func TestNoQuietWhileTheClockIsNotTrusted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &box{}
		quiet := &Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: time.UTC}
		d, end := bubble(t, time.Date(2026, 1, 15, 23, 0, 0, 0, time.UTC), Options{Zone: time.UTC, Quiet: quiet}, map[string]*box{"maker": b})
		defer end()
		d.Tell(State{At: d.opts.Now(), Active: []alerts.Alert{d.firing("Cold", "frieze", alerts.Warning)}})
		synctest.Wait()
		require.Equal(t, []string{"frieze: Cold."}, b.titles())
	})
}

// One target hangs for ever, one is refused for an hour: the third hears everything at once, nobody who tells
// waits, retries come ever more slowly but at least every minute and a half, and once it works it is told once.
func TestDeadTargetsDelayNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hangs, refused, well := &box{hangs: true}, &box{fail: &refusal{why: errors.New("connection refused")}}, &box{}
		d, end := bubble(t, time.Date(2026, 1, 15, 9, 0, 0, 0, time.UTC), Options{Zone: time.UTC},
			map[string]*box{"hangs": hangs, "refused": refused, "well": well})
		defer end()
		begin := time.Now()
		var active []alerts.Alert
		for i := range 5 {
			active = append(active, d.firing(fmt.Sprint("Alert", i), "frieze", alerts.Warning))
			d.tellNow(active...)
			require.Len(t, well.titles(), i+1)
		}
		require.Zero(t, time.Since(begin))

		time.Sleep(time.Hour)
		require.Greater(t, refused.tried(), 40)
		require.Less(t, refused.tried(), 150)
		for _, h := range d.Health() {
			if h.Target == "refused" {
				require.Equal(t, 5, h.Waiting)
				require.InDelta(t, time.Hour.Seconds(), h.Oldest.Seconds(), 1)
				require.Equal(t, "connection refused", h.Err)
			}
		}
		refused.set(nil)
		time.Sleep(90 * time.Second)
		require.Equal(t, []string{"frieze: 5 began"}, refused.titles())
		time.Sleep(time.Hour)
		require.Len(t, refused.titles(), 1)
		require.Len(t, well.titles(), 5)
	})
}

// The books are bounded: of thousands of alerts that came and went while nobody was reached, the last thousand
// are kept, and what is given up is counted.
func TestBooksAreBounded(t *testing.T) {
	b := newBook("Annex", []string{"maker"})
	at := time.Date(2026, 1, 15, 9, 0, 0, 0, time.UTC)
	for i := range 2500 {
		at = at.Add(time.Minute)
		b.take(at, []alerts.Alert{{Name: "Cold", Since: at, Labels: map[string]string{"mold": fmt.Sprint(i)}}})
	}
	b.take(at, nil)
	require.Len(t, b.episodes, mostEnded)
	require.Equal(t, uint64(1500), b.given["maker"])
	c := b.take(at.Add(oldestEnded), nil)
	require.Empty(t, b.episodes)
	require.Len(t, c.drop, mostEnded)
}

// A board that woke up long ago by its clock learns the time: what ended minutes ago is not given up as if it were last
// year's.
func TestBooksFollowTheClock(t *testing.T) {
	for name, by := range map[string]time.Duration{"forward": 365 * 24 * time.Hour, "back": -365 * 24 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			b := newBook("Annex", []string{"maker"})
			at := time.Date(2025, 1, 15, 9, 0, 0, 0, time.UTC)
			cold := alerts.Alert{Name: "Cold", Since: at}
			b.take(at, []alerts.Alert{cold})
			b.take(at.Add(time.Minute), nil)
			shifts := []sensors.Shift{{From: at.Add(-time.Hour), By: by}}
			moved := b.follow(shifts)
			b.take(at.Add(2*time.Minute+by), nil)
			require.Empty(t, b.follow(shifts).put, "once")
			require.Len(t, moved.put, 1)
			require.Zero(t, b.given["maker"])
			require.Equal(t, at.Add(time.Minute+by), b.all()[0].ended)
			require.Equal(t, at.Add(by), b.all()[0].alert.Since)
		})
	}
}

// Books that are damaged are set aside, and what stands is told again; where there can be none, alerts are told
// all the same.
func TestBooksThatCannotBeUsed(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "annex.messages")
	require.NoError(t, os.WriteFile(file, []byte("no books, but a letter of someone else"), 0o600))
	o := Options{Zone: time.UTC, File: file, Now: time.Now, Log: slog.New(slog.DiscardHandler)}
	for _, f := range []string{file, filepath.Join(dir, "nowhere", "annex.messages")} {
		o.File = f
		d, err := open(t.Context(), o, []*courier{newCourier("maker", ByMail, &messages{&box{now: time.Now}}, o.Log)})
		require.NoError(t, err)
		require.Equal(t, f == file, d.failed == nil, d.failed)
		d.Tell(State{At: time.Now(), Active: []alerts.Alert{{Name: "Cold", Since: time.Now()}}})
		d.takeNews(t.Context())
		require.Len(t, d.Standing(), 1)
		n, _, err := d.couriers[0].rounds.round(t.Context(), d, "maker")
		require.NoError(t, err)
		require.Equal(t, 1, n)
		require.NoError(t, d.Close())
	}
	aside, err := os.ReadFile(file + ".unusable")
	require.NoError(t, err)
	require.Equal(t, "no books, but a letter of someone else", string(aside))
}

func TestTargetsOfOneName(t *testing.T) {
	o := Options{Zone: time.UTC, Now: time.Now, Log: slog.New(slog.DiscardHandler), Webhooks: []Webhook{{Name: "phone"}, {Name: "phone"}}}
	_, err := Open(t.Context(), o)
	require.ErrorContains(t, err, "two targets have one name")
}

// A mail server that accepts and then says nothing holds nobody up when the daemon ends, and it is certain that
// it took nothing.
func TestMailServerThatSaysNothing(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	m, err := newMailer(Mail{
		Name: "maker", Host: "127.0.0.1", Port: l.Addr().(*net.TCPAddr).Port, Encryption: Plaintext,
		From: "pourward@example.org", To: "maker@example.org",
	})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	result := make(chan error, 1)
	go func() { result <- m.send(ctx, &cold().Message) }()
	conn, err := l.Accept()
	require.NoError(t, err)
	defer conn.Close()
	cancel()
	err = <-result
	require.Error(t, err)
	_, certain := refused(err)
	require.True(t, certain)
}
