package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"golang.org/x/sync/errgroup"

	"pourward/model/journal"
	"pourward/model/loop"
	"pourward/sensors"
)

// shopRecord is where readings and marks are.
type shopRecord interface {
	loop.Record
	Trace(ctx context.Context, probe string, from, to time.Time) ([]sensors.Reading, error)
}

// pastSource is a source that can be asked for what was measured before.
type pastSource interface {
	Past(ctx context.Context, out chan<- sensors.Reading) error
}

// askBack is the record of a shop whose journal keeps marks alone: readings are asked for from whoever
// keeps them. What cannot be had now is left out, and the sources ask for it again as they run.
func askBack(ctx context.Context, marks *journal.Keeper, sources []sensors.Source, o shopOptions) (shopRecord, error) {
	r := loop.NewRecent(marks, o.back)
	var g errgroup.Group
	out := make(chan sensors.Reading)
	for _, s := range sources {
		if p, ok := s.(pastSource); ok {
			g.Go(func() error { return p.Past(ctx, out) })
		}
	}
	ended := make(chan error, 1)
	go func() {
		defer close(out)
		ended <- g.Wait()
	}()
	var failed error
	for x := range out {
		if x.Err == nil {
			failed = errors.Join(failed, r.AppendReading(x.Rounded()))
		}
	}
	err := errors.Join(<-ended, failed)
	if ctx.Err() != nil {
		return nil, fmt.Errorf("ask for what was measured before: %w", ctx.Err())
	}
	if err != nil {
		o.log.Warn("not all that was measured before is known; it is asked for again while the daemon runs", "err", err)
	}
	return r, nil
}
