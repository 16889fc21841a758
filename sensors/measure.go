package sensors

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"
)

// grace is the real time beyond its deadline in which a call may still return by itself.
const grace = time.Second

// outcome is what an attempt came to. With an error the probe is closed.
type outcome struct {
	probe  Probe
	opened bool
	at     time.Time
	sample Sample
	err    error
}

// hung is a call that outlived its deadline.
type hung struct {
	probe string
	since time.Time
	done  <-chan outcome
}

// attempt measures once under the probe's deadline, unless a call still holds the bus.
func (b *bus) attempt(ctx context.Context, t *target) outcome {
	began := b.clock.Now()
	if err := b.held(t); err != nil {
		return outcome{at: began, err: err}
	}
	limited, cancel := context.WithTimeout(ctx, t.Deadline)
	defer cancel()
	done := make(chan outcome, 1)
	go func(probe Probe, stale bool) { done <- measure(limited, b.clock, t.Polled, probe, stale) }(t.probe, t.stale)
	t.probe, t.stale = nil, false
	o, ok := await(ctx, done, t.Deadline+grace)
	if !ok {
		b.hung = &hung{probe: t.Name, since: began, done: done}
		return outcome{at: began, err: &FaultError{Fault: Timeout,
			Doing: fmt.Sprintf("measure with probe %q: the driver did not return in %s; if this lasts, cut the power of the probe", t.Name, t.Deadline)}}
	}
	t.probe = o.probe
	if o.opened {
		t.judge.Reopened()
	}
	return o
}

// held returns an error while a call still holds the bus.
func (b *bus) held(t *target) error {
	if b.hung == nil {
		return nil
	}
	select {
	case <-b.hung.done:
		b.log.Info("bus is free again", "probe", b.hung.probe)
		b.hung = nil
		return nil
	default:
	}
	return &FaultError{Fault: Timeout, Doing: fmt.Sprintf("measure with probe %q: the bus is held by probe %q since %s",
		t.Name, b.hung.probe, b.hung.since.UTC().Format(time.RFC3339))}
}

// await waits for a result: for as long as patience says, and only [grace] once ctx has ended.
func await(ctx context.Context, done <-chan outcome, patience time.Duration) (outcome, bool) {
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case o := <-done:
		return o, true
	case <-timer.C:
		return outcome{}, false
	case <-ctx.Done():
	}
	timer.Reset(grace)
	select {
	case o := <-done:
		return o, true
	case <-timer.C:
		return outcome{}, false
	}
}

// measure opens the probe if need be and senses once. It alone touches the bus. A driver that panics
// has failed like one that returns an error: it must not end the watch over the other probes.
func measure(ctx context.Context, clock Clock, p Polled, probe Probe, stale bool) (o outcome) {
	o = outcome{probe: probe, at: clock.Now()}
	defer func() {
		if panicked := recover(); panicked != nil {
			o.err = fmt.Errorf("measure with probe %q: its driver panicked: %v", p.Name, panicked)
		}
		if o.err == nil && ctx.Err() != nil {
			o.err = &FaultError{Fault: Timeout, Doing: fmt.Sprintf("measure with probe %q", p.Name), Cause: ctx.Err()}
		}
		if o.err != nil && o.probe != nil {
			if err := o.probe.Close(); err != nil {
				o.err = errors.Join(o.err, err)
			}
			o.probe = nil
		}
	}()
	if stale && o.probe != nil {
		if o.err = o.probe.Close(); o.err != nil {
			o.probe = nil
			return o
		}
		o.probe = nil
	}
	if o.probe == nil {
		if o.probe, o.err = p.Open(ctx); o.err != nil {
			o.probe = nil
			return o
		}
		o.opened = true
	}
	o.at = clock.Now()
	o.sample, o.err = o.probe.Sense(ctx)
	if o.err == nil && math.IsNaN(o.sample.TempC) && math.IsNaN(o.sample.Humidity) {
		o.err = &FaultError{Fault: Malformed, Doing: fmt.Sprintf("measure with probe %q: the driver gave no value", p.Name)}
	}
	if !o.sample.At.IsZero() {
		o.at = o.sample.At
	}
	return o
}

// close gives up every probe, without waiting for ever for one that blocks.
func (b *bus) close() {
	done := make(chan outcome, 1)
	go func() {
		for _, t := range b.targets {
			if t.probe != nil {
				if err := t.probe.Close(); err != nil {
					b.log.Warn("probe does not close", "probe", t.Name, "err", err)
				}
			}
		}
		done <- outcome{}
	}()
	await(context.Background(), done, grace)
}
