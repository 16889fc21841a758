package network

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"log/slog"
	"math"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

var noon = time.Date(2026, 1, 14, 12, 0, 0, 0, time.UTC)

// table reads a file of testdata as one map per row.
func table(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

// number reads a cell, NaN for an empty one.
func number(t testing.TB, text string) float64 {
	t.Helper()
	if text == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// same compares values of which either may be missing.
func same(t testing.TB, want, got float64, row any) {
	t.Helper()
	require.Equal(t, math.IsNaN(want), math.IsNaN(got), row)
	if !math.IsNaN(want) {
		require.InDelta(t, want, got, 1e-9, row)
	}
}

// handClock stands still until it is set.
type handClock struct {
	mu  sync.Mutex
	now time.Time
}

func newHandClock() *handClock { return &handClock{now: noon} }

func (c *handClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *handClock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

func (c *handClock) Wait(ctx context.Context, _ time.Time) error {
	<-ctx.Done()
	return ctx.Err()
}

// sink collects what a source delivers.
type sink struct {
	t      testing.TB
	out    chan sensors.Reading
	cancel context.CancelFunc
	done   chan error

	mu  sync.Mutex
	all []sensors.Reading
}

// collect runs a source until the test ends, or end is called.
func collect(t testing.TB, s sensors.Source) *sink {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	k := &sink{t: t, out: make(chan sensors.Reading), cancel: cancel, done: make(chan error, 1)}
	go func() { k.done <- s.Run(ctx, k.out) }()
	go func() {
		for {
			select {
			case r := <-k.out:
				if r.Receipt != nil {
					r.Receipt.Settle(nil)
					continue
				}
				k.mu.Lock()
				k.all = append(k.all, r)
				k.mu.Unlock()
			case <-ctx.Done():
				return
			}
		}
	}()
	t.Cleanup(cancel)
	return k
}

// end stops the source and sees that it ends by itself.
func (k *sink) end() {
	k.t.Helper()
	k.cancel()
	select {
	case err := <-k.done:
		require.ErrorIs(k.t, err, context.Canceled)
	case <-time.After(5 * time.Second):
		require.Fail(k.t, "the source does not end")
	}
}

func (k *sink) readings() []sensors.Reading {
	k.mu.Lock()
	defer k.mu.Unlock()
	return append([]sensors.Reading(nil), k.all...)
}

// good returns the temperatures of a probe that were delivered as readings, in the order they came.
func (k *sink) good(probe string) []float64 {
	var out []float64
	for _, r := range k.readings() {
		if r.Probe == probe && r.Err == nil {
			out = append(out, r.Temp.Value)
		}
	}
	return out
}

// failures returns the errors that a probe was told as failed with.
func (k *sink) failures(probe string) []error {
	var out []error
	for _, r := range k.readings() {
		if r.Probe == probe && r.Err != nil {
			out = append(out, r.Err)
		}
	}
	return out
}

// soon waits, in real time, for something to come true.
func soon(t testing.TB, what string, is func() bool) {
	t.Helper()
	require.Eventually(t, is, 20*time.Second, 10*time.Millisecond, what)
}

// book is a log that can be read.
type book struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (b *book) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.Write(p)
}

func (b *book) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.String()
}

func (b *book) logger() *slog.Logger { return slog.New(slog.NewTextHandler(b, nil)) }

// counted returns a source's count of one refusal.
func counted(counts []Count, probe string, r Refusal) uint64 {
	for _, c := range counts {
		if c.Probe == probe && c.Refusal == r {
			return c.N
		}
	}
	return 0
}

// refusalOf returns the refusal that an error tells of, 0 for none.
func refusalOf(err error) Refusal {
	var r *refused
	if errors.As(err, &r) {
		return r.kind
	}
	return 0
}
