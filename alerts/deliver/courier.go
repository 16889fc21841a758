package deliver

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"github.com/cenkalti/backoff/v5"
)

// How couriers go about.
const (
	lookAgain    = time.Minute // the longest time without a look at what is to be told
	firstRetry   = time.Second
	slowestRetry = time.Minute      // a board's network comes back at any time: one try a minute costs nothing
	attemptTime  = 20 * time.Second // for one message
)

// rounds are what a courier does again and again.
type rounds interface {
	// round tells the target all it must hear now. n counts what was taken, and rest is how long to wait
	// until the next round when there is no news.
	round(ctx context.Context, d *Deliverer, target string) (n int, rest time.Duration, err error)
	// try sends a trial.
	try(ctx context.Context, o Options) error
}

// courier serves one target.
type courier struct {
	target  string
	channel Channel
	rounds  rounds
	log     *slog.Logger
	token   chan struct{}

	mu      sync.Mutex // guards what follows
	sent    uint64
	failed  uint64
	err     error
	failing time.Time // since when it does not get through; zero when it does
}

func newCourier(target string, channel Channel, r rounds, log *slog.Logger) *courier {
	return &courier{target: target, channel: channel, rounds: r, log: log, token: make(chan struct{}, 1)}
}

// wake lets the courier look at once, unless the last attempt failed: then it waits for the next one.
func (c *courier) wake() {
	select {
	case c.token <- struct{}{}:
	default:
	}
}

func (c *courier) run(ctx context.Context, d *Deliverer) {
	retry := &backoff.ExponentialBackOff{InitialInterval: firstRetry, RandomizationFactor: 0.5, Multiplier: 2, MaxInterval: slowestRetry}
	retry.Reset()
	for ctx.Err() == nil {
		n, rest, err := c.rounds.round(ctx, d, c.target)
		if err != nil && ctx.Err() != nil {
			return
		}
		c.note(n, err)
		token := c.token
		if err == nil {
			retry.Reset()
		} else {
			rest, token = retry.NextBackOff(), nil
		}
		timer := time.NewTimer(rest)
		select {
		case <-timer.C:
		case <-token:
		case <-ctx.Done():
		}
		timer.Stop()
	}
}

// note counts how a round went, and logs when that changes.
func (c *courier) note(n int, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.sent += uint64(n)
	switch {
	case err == nil:
		if c.err != nil {
			c.log.Info("messages get through again", "target", c.target, "channel", c.channel, "after", time.Since(c.failing).Round(time.Second))
		}
		c.failing = time.Time{}
	case c.err == nil:
		c.failing = time.Now()
		c.log.Warn("messages do not get through; they are tried again", "target", c.target, "channel", c.channel, "why", err)
	}
	if err != nil {
		c.failed++
	}
	c.err = err
}

func (c *courier) health() Health {
	c.mu.Lock()
	defer c.mu.Unlock()
	h := Health{Sent: c.sent, Failed: c.failed}
	if c.err != nil {
		h.Err = c.err.Error()
	}
	if !c.failing.IsZero() {
		h.Oldest = time.Since(c.failing)
	}
	return h
}

// refusal is a failure after which it is certain that the target did not take the message. Any other leaves
// that open.
type refusal struct {
	why      error
	answered bool // the target said so itself: it is there, and the next message may do better
	forGood  bool // the target said that it will never take it
}

// Error implements error.
func (r *refusal) Error() string { return r.why.Error() }

// Unwrap gives the failure itself.
func (r *refusal) Unwrap() error { return r.why }

// refused reports whether it is certain that the message was not taken, and how.
func refused(err error) (how refusal, certain bool) {
	var r *refusal
	if !errors.As(err, &r) {
		return refusal{}, false
	}
	return *r, true
}

// lastMoment is how long what is under way has when the daemon ends.
const lastMoment = 3 * time.Second

// attempt is a context for one attempt. It outlives ctx by a moment, so that the end of the daemon does not
// leave open whether a message was taken.
func attempt(ctx context.Context) (context.Context, context.CancelFunc) {
	within, cancel := context.WithTimeout(context.WithoutCancel(ctx), attemptTime)
	stop := context.AfterFunc(ctx, func() { time.AfterFunc(lastMoment, cancel) })
	return within, func() { stop(); cancel() }
}
