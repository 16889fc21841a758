package loop

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Kept is a record that is read and not written. One that also has the Boots of [Dating] tells what was
// recorded under which label.
type Kept interface {
	// Marks returns every mark, by number.
	Marks(context.Context) ([]model.Mark, error)
	// Readings yields the readings of all probes from an instant up to, not including, another, in
	// order of time.
	Readings(ctx context.Context, from, to time.Time, yield func(sensors.Reading) error) error
	// Span returns the instants of the first and last reading on record; zero when there is none.
	Span(context.Context) (first, last time.Time, err error)
}

// Past is a record to look back on.
type Past struct {
	Setup  model.Setup
	Record Kept
	Log    *slog.Logger // nil = discarded
}

// anew is a pause in the marks after which it is cheaper to fold the record again, which takes four weeks
// of readings, than to go on through all that lies between.
const anew = 28 * 24 * time.Hour

// Retell lives through the record again, from mark first to mark last, and hands over each mark with the
// outlook that was told when it had been taken: with the readings up to that instant, and with the marks
// as they stood then. A mark that does not fit today's setup is left out, as the shop loop does.
//
// A reading counts from its own instant on; when it came in is not on record.
func (p Past) Retell(ctx context.Context, first, last int64, tell func(model.Mark, *model.Outlook) error) error {
	all, err := p.Record.Marks(ctx)
	if err != nil {
		return fmt.Errorf("read the marks on record: %w", err)
	}
	var l *Loop
	var h *hindsight
	for i, m := range all {
		if m.ID < first || m.ID > last {
			continue
		}
		if l == nil || m.Entered.Sub(h.seen) > anew {
			if l, h, err = p.start(ctx, all[:i], m.Entered); err != nil {
				return err
			}
		} else if err := h.goOn(ctx, l, m.Entered); err != nil {
			return err
		}
		switch _, err := l.mark(ctx, m); {
		case errors.Is(err, ErrRefused):
			l.opts.Log.Warn("a mark on record does not fit any more and is left out", "mark", m.ID, "says", m.String(), "err", err)
			continue
		case err != nil:
			return err
		}
		if err := tell(m, l.Snapshot().Outlook); err != nil {
			return err
		}
	}
	return nil
}

// Outlook is what is told at an instant with the readings up to then and with every mark on record, those
// entered later included: what came of it all.
func (p Past) Outlook(ctx context.Context, at time.Time) (*model.Outlook, error) {
	all, err := p.Record.Marks(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the marks on record: %w", err)
	}
	l, _, err := p.start(ctx, all, at)
	if err != nil {
		return nil, err
	}
	return l.Snapshot().Outlook, nil
}

// start makes a loop that knows the record up to an instant.
func (p Past) start(ctx context.Context, marks []model.Mark, seen time.Time) (*Loop, *hindsight, error) {
	h := &hindsight{kept: p.Record, marks: slices.Clone(marks), seen: seen}
	boots, err := h.Boots(ctx)
	if err != nil {
		return nil, nil, err
	}
	clock := stopped{at: seen}
	if len(boots) > 0 {
		clock.boot = boots[len(boots)-1]
	}
	l, err := New(ctx, Options{Setup: p.Setup, Record: h, Clock: clock, Replay: true, Log: p.Log})
	return l, h, err
}

// hindsight is a record of which only what lies before an instant is known yet. Nothing is written to it.
type hindsight struct {
	kept  Kept
	marks []model.Mark
	seen  time.Time // readings up to here, included
}

// goOn lets the loop hear the readings up to an instant.
func (h *hindsight) goOn(ctx context.Context, l *Loop, to time.Time) error {
	if !to.After(h.seen) {
		return nil
	}
	from := h.seen.Add(time.Millisecond)
	h.seen = to
	return h.Readings(ctx, from, to.Add(time.Millisecond), func(r sensors.Reading) error {
		l.take(r)
		return ctx.Err()
	})
}

// AppendReading has it already.
func (h *hindsight) AppendReading(sensors.Reading) error { return nil }

// AppendMark takes a mark that has its number already.
func (h *hindsight) AppendMark(_ context.Context, m model.Mark) (model.Mark, error) {
	h.marks = append(h.marks, m)
	return m, nil
}

// Flush has nothing to do.
func (h *hindsight) Flush(context.Context) error { return nil }

// Waiting is always zero.
func (h *hindsight) Waiting() int { return 0 }

// Marks returns the marks known yet.
func (h *hindsight) Marks(context.Context) ([]model.Mark, error) { return slices.Clone(h.marks), nil }

// Readings yields those known yet.
func (h *hindsight) Readings(ctx context.Context, from, to time.Time, yield func(sensors.Reading) error) error {
	if end := h.seen.Add(time.Millisecond); to.After(end) {
		to = end
	}
	return h.kept.Readings(ctx, from, to, yield)
}

// Span is that of the readings known yet.
func (h *hindsight) Span(ctx context.Context) (first, last time.Time, err error) {
	first, last, err = h.kept.Span(ctx)
	if err != nil || !last.After(h.seen) {
		return first, last, err
	}
	last = time.Time{}
	for back := time.Hour; last.IsZero() && !first.After(h.seen); back *= 8 {
		from := h.seen.Add(-back)
		if from.Before(first) {
			from = first
		}
		err := h.Readings(ctx, from, h.seen.Add(time.Millisecond), func(r sensors.Reading) error {
			last = r.At
			return nil
		})
		if err != nil {
			return first, last, err
		}
	}
	if last.IsZero() {
		return time.Time{}, time.Time{}, nil
	}
	return first, last, nil
}

// Boots are those of the record, later ones included: their breaks matter from their own instants on.
func (h *hindsight) Boots(ctx context.Context) ([]sensors.Boot, error) {
	if d, ok := h.kept.(interface {
		Boots(context.Context) ([]sensors.Boot, error)
	}); ok {
		return d.Boots(ctx)
	}
	return nil, nil
}

// PutBoot changes nothing.
func (h *hindsight) PutBoot(context.Context, sensors.Boot) error { return nil }

// Redate is never asked for: the clock's label is never off.
func (h *hindsight) Redate(_ context.Context, b sensors.Boot, _ time.Duration) (sensors.Boot, error) {
	return b, nil
}

// stopped is a clock that shows one instant, under the label of the last boot on record.
type stopped struct {
	at   time.Time
	boot sensors.Boot
}

func (c stopped) Now() time.Time                              { return c.at }
func (c stopped) Wait(ctx context.Context, _ time.Time) error { <-ctx.Done(); return ctx.Err() }
func (c stopped) Boot(time.Time) sensors.Boot                 { return c.boot }
func (c stopped) Off() (time.Duration, bool)                  { return 0, false }
func (c stopped) Shift(time.Duration)                         {}
