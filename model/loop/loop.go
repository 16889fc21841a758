// Package loop runs the shop: one goroutine takes every reading and mark, puts it on record, folds it
// into the model and publishes what follows.
//
// Live, demo, replay and tests run this same loop with another clock and another source.
package loop

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Record keeps readings and marks. It is used by the loop's goroutine only.
type Record interface {
	// AppendReading takes a reading; it may be kept in memory until the next Flush.
	AppendReading(sensors.Reading) error
	// AppendMark makes a mark safe before it returns, and gives it its number.
	AppendMark(context.Context, model.Mark) (model.Mark, error)
	// Flush makes every reading taken so far safe.
	Flush(context.Context) error
	// Waiting is the number of readings that are not safe yet.
	Waiting() int
	Kept
}

// Standing is a [Record] that may be kept elsewhere than in its file.
type Standing interface {
	// Stand tells where it is kept and what is missing from it.
	Stand() model.RecordStand
	// Renewed reports, once, that the record is another than the one that was read from it so far.
	Renewed() bool
}

// Options set up a [Loop]. All but Publish and Log are required.
type Options struct {
	Setup   model.Setup
	Record  Record
	Clock   sensors.Clock
	Flush   time.Duration                 // longest time for which a reading may be unsafe; zero = 60 s
	Tell    time.Duration                 // least time between two snapshots when only readings come; zero = none
	Replay  bool                          // tell by the readings' own instants alone, so that what is told when does not depend on how fast they come
	Refused func() map[string]uint64      // counts what sources refused, by kind; may be nil
	Deliver func() []model.DeliveryHealth // tells how the delivery of alerts stands; may be nil
	Publish func(*model.Snapshot)         // called on the loop's goroutine with every new snapshot
	Log     *slog.Logger
}

// Loop owns the shop's state.
type Loop struct {
	opts    Options
	shop    *model.Shop
	asks    chan ask
	looks   chan look
	turns   chan struct{}
	ended   chan struct{} // closed when Run has ended
	latest  atomic.Pointer[model.Snapshot]
	dating  *dating         // nil where the clock's labels are never wrong
	shifts  []sensors.Shift // of the labels, in this run
	health  health
	event   time.Time        // of a replay: instant of the last reading or mark
	told    time.Time        // when the last outlook was told, by the board's clock
	telling time.Duration    // how long it took
	later   <-chan time.Time // when to look again whether to tell; nil when nothing is held back
	owed    []*sensors.Receipt
	commit  <-chan time.Time // when to make readings safe that somebody waits for; nil when nobody does
	tried   time.Time        // when that failed last, by the clock
	synced  time.Time        // when readings were last made safe, as the clock gave it: steps of wall time do not matter
}

// ask is a mark on its way to the loop.
type ask struct {
	mark   model.Mark
	answer chan<- answer
}

type answer struct {
	mark model.Mark
	err  error
}

// defaults.
const (
	defaultFlush = 60 * time.Second
	clockSlack   = time.Minute // how far ahead of the shop clock a mark may lie
	forgetEvery  = 1000        // readings
	groupCommit  = time.Second // for how long receipts are gathered before readings are made safe for them
	retryEvery   = 10 * time.Second
)

// ErrRefused wraps the reason why a mark does not make sense; nothing was stored.
var ErrRefused = errors.New("mark refused")

// errEnded tells whoever comes to a loop that has ended. Nothing was stored.
var errEnded = errors.New("the shop is being closed; enter it again once the daemon runs")

// New makes a loop and folds what is on record, so that it goes on where the last one stopped.
func New(ctx context.Context, opts Options) (*Loop, error) {
	if opts.Flush == 0 {
		opts.Flush = defaultFlush
	}
	if opts.Log == nil {
		opts.Log = slog.New(slog.DiscardHandler)
	}
	l := &Loop{opts: opts, asks: make(chan ask), looks: make(chan look), turns: make(chan struct{}), ended: make(chan struct{})}
	l.health.begin(opts.Clock.Now(), opts.Setup.Probes)
	l.synced = opts.Clock.Now()
	var err error
	if l.dating, err = startDating(ctx, opts); err != nil {
		return nil, err
	}
	if err := l.rebuild(ctx, nil); err != nil {
		return nil, err
	}
	l.publish(l.now())
	return l, nil
}

// Snapshot returns what was last published; anyone may call it at any time.
func (l *Loop) Snapshot() *model.Snapshot { return l.latest.Load() }

// rebuild folds the record anew, with one more mark where one is given.
func (l *Loop) rebuild(ctx context.Context, more *model.Mark) error {
	shop, err := model.NewShop(l.opts.Setup)
	if err != nil {
		return fmt.Errorf("set up the shop: %w", err)
	}
	marks, err := l.opts.Record.Marks(ctx)
	if err != nil {
		return fmt.Errorf("read the marks on record: %w", err)
	}
	if more != nil && (len(marks) == 0 || marks[len(marks)-1].ID < more.ID) {
		marks = append(marks, *more)
	}
	for _, m := range marks {
		if err := shop.Mark(m); err != nil {
			l.opts.Log.Error("a mark on record does not fit any more and is left out", "mark", m.ID, "says", m.String(), "err", err)
		}
	}
	_, last, err := l.opts.Record.Span(ctx)
	if err != nil {
		return fmt.Errorf("read the span of the record: %w", err)
	}
	shop.SetBreaks(l.dating.breaks())
	if last.IsZero() {
		l.shop = shop
		return nil
	}
	folded := 0
	for _, span := range shop.Needs(last) {
		err = l.opts.Record.Readings(ctx, span.From, span.To, func(r sensors.Reading) error {
			shop.Reading(r)
			if folded++; folded%forgetEvery == 0 {
				shop.Forget() // a month of readings need not be held at once
			}
			return nil
		})
		if err != nil {
			return fmt.Errorf("read the readings on record: %w", err)
		}
	}
	shop.Forget()
	l.shop = shop
	return nil
}

// now is the instant to tell of: the shop clock's, but never before the newest reading. In a replay it is
// that of the last event.
func (l *Loop) now() time.Time {
	if l.opts.Replay && !l.event.IsZero() {
		return l.event
	}
	now := l.opts.Clock.Now().UTC()
	if s := l.latest.Load(); s != nil && s.Outlook.At.After(now) {
		return s.Outlook.At
	}
	return now
}

// publish tells everyone what is known at an instant.
func (l *Loop) publish(at time.Time) {
	begun := time.Now()
	s := &model.Snapshot{Outlook: l.shop.Outlook(at), Health: l.health.snapshot()}
	s.Health.ClockTrusted, s.Health.Shifts = l.dating.trusted(), l.shifts
	if l.opts.Refused != nil {
		s.Health.Refused = l.opts.Refused()
	}
	if l.opts.Deliver != nil {
		s.Health.Delivery = l.opts.Deliver()
	}
	l.told = time.Now()
	l.telling = l.told.Sub(begun)
	s.Health.Journal.LastSync, s.Health.Journal.Waiting = l.synced.UTC(), l.opts.Record.Waiting()
	if standing, ok := l.opts.Record.(Standing); ok {
		s.Health.Journal.Stand = standing.Stand()
		if stand := s.Health.Journal.Stand; stand.InMemory && s.Health.Journal.Err == "" {
			s.Health.Journal.Err = stand.Why
		}
	}
	l.latest.Store(s)
	if l.opts.Publish != nil {
		l.opts.Publish(s)
	}
}
