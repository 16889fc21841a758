package main

import (
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/recorded"
)

// tape plays recorded probes, and is the shop clock meanwhile: it shows the time the recording is at.
type tape struct {
	probes []config.Probe
	sensors.Clock
}

// sources opens the recordings where the journal stopped.
func (t *tape) sources(ctx context.Context, past past, _ sensors.Clock) ([]sensors.Source, error) {
	_, begin, err := past.Span(ctx)
	if err != nil {
		return nil, err
	}
	opts := make([]recorded.Options, 0, len(t.probes))
	for _, p := range t.probes {
		o := recordedOptions(p)
		if o.After, err = past.LastOf(ctx, p.Name); err != nil {
			return nil, err
		}
		opts = append(opts, o)
	}
	if begin.IsZero() {
		if begin, err = firstOf(ctx, opts); err != nil {
			return nil, err
		}
	}
	return t.play(opts, begin)
}

// play sets the clock going and makes the sources.
func (t *tape) play(opts []recorded.Options, begin time.Time) ([]sensors.Source, error) {
	speed := math.Inf(1)
	for _, p := range t.probes {
		speed = min(speed, p.Recorded.Speed)
	}
	m := &merged{clock: newFollowing(begin)}
	t.Clock = m.clock
	if !math.IsInf(speed, 1) {
		t.Clock = sensors.NewFastClock(begin, speed)
	}
	var out []sensors.Source
	for _, o := range opts {
		if !math.IsInf(speed, 1) {
			o.Clock = t.Clock
		}
		file, err := recorded.New(o)
		if err != nil {
			return nil, err
		}
		s := correct(file, t.probes)
		out, m.sources = append(out, s), append(m.sources, s)
	}
	if math.IsInf(speed, 1) {
		return []sensors.Source{m}, nil
	}
	return out, nil
}

func recordedOptions(p config.Probe) recorded.Options {
	r := p.Recorded
	o := recorded.Options{
		Path: r.File, TimeColumn: r.Time.Column, TimeLayout: r.Time.Layout, Zone: r.Time.Zone,
		TempUnit: recorded.Celsius, HumidityUnit: recorded.Ratio,
		Probes: []recorded.Probe{{Name: p.Name, TempColumn: r.Temperature.Column, Limits: p.Limits}},
	}
	if r.Temperature.Unit == config.Fahrenheit {
		o.TempUnit = recorded.Fahrenheit
	}
	if r.Humidity != nil {
		o.Probes[0].HumidityColumn = r.Humidity.Column
		if r.Humidity.Percent {
			o.HumidityUnit = recorded.Percent
		}
	}
	return o
}

// firstOf returns the earliest instant in any of the recordings.
func firstOf(ctx context.Context, opts []recorded.Options) (time.Time, error) {
	var first time.Time
	for _, o := range opts {
		s, err := recorded.New(o)
		if err != nil {
			return first, err
		}
		got, err := firstReading(ctx, s)
		if err != nil {
			return first, fmt.Errorf("find the first reading of %s: %w", o.Path, err)
		}
		if first.IsZero() || got.Before(first) {
			first = got
		}
	}
	return first, nil
}

func firstReading(ctx context.Context, s sensors.Source) (time.Time, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	out, done := make(chan sensors.Reading), make(chan error, 1)
	go func() { done <- s.Run(ctx, out) }()
	select {
	case r := <-out:
		return r.At, nil
	case err := <-done:
		if err == nil {
			err = fmt.Errorf("it holds none")
		}
		return time.Time{}, err
	}
}

// following is a clock that shows the newest instant it was told of. Nothing ever waits long for it:
// its time comes from events.
type following struct {
	mu    sync.Mutex
	at    time.Time
	moved chan struct{} // closed when the clock moves
}

func newFollowing(at time.Time) *following {
	return &following{at: at, moved: make(chan struct{})}
}

// Now returns the newest instant.
func (c *following) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// follow moves the clock forward; it never moves back.
func (c *following) follow(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if at.After(c.at) {
		c.at = at
		close(c.moved)
		c.moved = make(chan struct{})
	}
}

// Wait waits until an event as late as t has come.
func (c *following) Wait(ctx context.Context, t time.Time) error {
	for {
		c.mu.Lock()
		reached, moved := !c.at.Before(t), c.moved
		c.mu.Unlock()
		if reached {
			return ctx.Err()
		}
		select {
		case <-moved:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// merged delivers several sources in order of time, as fast as they are taken, and moves its clock along.
type merged struct {
	sources []sensors.Source
	clock   *following
	before  func(ctx context.Context, at time.Time) error // called before each reading; may be nil
}

// Run implements [sensors.Source].
func (m *merged) Run(ctx context.Context, out chan<- sensors.Reading) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	heads := make([]*head, len(m.sources))
	for i, s := range m.sources {
		heads[i] = startHead(ctx, s)
	}
	for {
		first := -1
		for i, h := range heads {
			if h.fill() && (first < 0 || h.next.At.Before(heads[first].next.At)) {
				first = i
			}
			if h.err != nil {
				return h.err
			}
		}
		if first < 0 {
			return nil
		}
		if err := m.send(ctx, out, heads[first]); err != nil {
			return err
		}
	}
}

func (m *merged) send(ctx context.Context, out chan<- sensors.Reading, h *head) error {
	if m.before != nil {
		if err := m.before(ctx, h.next.At); err != nil {
			return err
		}
	}
	m.clock.follow(h.next.At)
	h.full = false
	select {
	case out <- h.next:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// head is the next reading of one source.
type head struct {
	readings <-chan sensors.Reading
	done     <-chan error
	next     sensors.Reading
	full     bool
	err      error
}

func startHead(ctx context.Context, s sensors.Source) *head {
	readings, done := make(chan sensors.Reading, 64), make(chan error, 1)
	go func() {
		defer close(readings)
		done <- s.Run(ctx, readings)
	}()
	return &head{readings: readings, done: done}
}

// fill waits for the next reading unless there is one; it reports whether there is.
func (h *head) fill() bool {
	if h.full || h.readings == nil {
		return h.full
	}
	if h.next, h.full = <-h.readings; !h.full {
		h.readings, h.err = nil, <-h.done
	}
	return h.full
}
