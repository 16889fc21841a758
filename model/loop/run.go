package loop

import (
	"context"
	"errors"
	"fmt"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// tellEvery is how often the outlook is told anew when no reading comes.
const tellEvery = 10 * time.Second

// Run takes readings and marks until ctx ends or readings is closed, then makes everything safe. It
// returns nil in both cases; an error means that the last readings could not be made safe. A loop runs once.
func (l *Loop) Run(ctx context.Context, readings <-chan sensors.Reading) error {
	defer close(l.ended)
	beat, stop := l.beat(ctx)
	defer stop()
	for {
		select {
		case <-ctx.Done():
			return l.finish(ctx)
		case r, ok := <-readings:
			if !ok {
				return l.finish(ctx)
			}
			l.take(r)
			if !l.opts.Replay {
				l.takeWaiting(readings)
			}
			l.settle(ctx)
		case a := <-l.asks:
			mark, err := l.mark(ctx, a.mark)
			a.answer <- answer{mark, err}
		case k := <-l.looks:
			k.answer <- l.sight(k.place)
		case <-l.turns:
		case <-beat:
			l.checkClock(ctx)
			l.settle(ctx)
		case <-l.later:
			l.later = nil
			l.settle(ctx)
		case <-l.commit:
			l.commit = nil
			l.flush(ctx)
		}
	}
}

// Turn returns once the loop's goroutine has come round, which shows that it does not hang. Anyone may call it
// while Run runs.
func (l *Loop) Turn(ctx context.Context) error {
	select {
	case l.turns <- struct{}{}:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("wait for the shop loop to come round: %w", ctx.Err())
	}
}

// beat ticks by the shop clock, so that silence is noticed. A replay has no beat but its readings.
func (l *Loop) beat(ctx context.Context) (<-chan struct{}, func()) {
	if l.opts.Replay {
		return nil, func() {}
	}
	ctx, stop := context.WithCancel(ctx)
	out := make(chan struct{})
	go func() {
		for l.opts.Clock.Wait(ctx, l.opts.Clock.Now().Add(tellEvery)) == nil {
			select {
			case out <- struct{}{}:
			case <-ctx.Done():
			}
		}
	}()
	return out, stop
}

// takeWaiting takes what else has come meanwhile, so that a burst is told once.
func (l *Loop) takeWaiting(readings <-chan sensors.Reading) {
	for range 256 {
		select {
		case r, ok := <-readings:
			if !ok {
				return
			}
			l.take(r)
		default:
			return
		}
	}
}

// take puts one reading on record and folds it.
func (l *Loop) take(r sensors.Reading) {
	if r.Receipt != nil {
		l.owe(r.Receipt)
		return
	}
	r = l.dating.dated(r).Rounded()
	l.health.count(r)
	if r.Err != nil {
		l.opts.Log.Debug("no reading", "probe", r.Probe, "err", r.Err)
		return
	}
	if err := l.opts.Record.AppendReading(r); err != nil {
		l.failed("record a reading", err)
	} else if r.Temp.Quality != sensors.Missing || r.Humidity.Quality != sensors.Missing { // else there is nothing to keep
		l.health.journal.Readings++
	}
	l.passed(r.At)
	l.shop.Reading(r)
	if l.health.journal.Readings%forgetEvery == 0 {
		l.shop.Forget()
	}
}

// owe settles a receipt, or notes that it is to be settled when what has come so far is safe.
func (l *Loop) owe(r *sensors.Receipt) {
	if !r.Safe || l.opts.Record.Waiting() == 0 {
		r.Settle(nil)
		return
	}
	l.owed = append(l.owed, r)
	if l.commit == nil {
		l.commit = time.After(groupCommit)
	}
}

// pay settles what is owed.
func (l *Loop) pay(err error) {
	for _, r := range l.owed {
		r.Settle(err)
	}
	l.owed, l.commit = nil, nil
}

// passed notes how far a replay has come.
func (l *Loop) passed(at time.Time) {
	if at.After(l.event) {
		l.event = at
	}
}

// settle makes readings safe when it is time, and tells what is known now.
func (l *Loop) settle(ctx context.Context) {
	if l.opts.Clock.Now().Sub(l.synced) >= l.opts.Flush {
		l.flush(ctx)
	}
	now := l.now()
	if now.Sub(l.latest.Load().Outlook.At) < l.opts.Tell {
		return
	}
	switch rest := breath*l.telling - time.Since(l.told); {
	case rest <= 0 || l.opts.Replay:
		l.publish(now)
	case l.later == nil:
		l.later = time.After(rest) // perhaps nothing else comes by then
	}
}

// breath is how many times as long as the last outlook took the loop waits before the next one, so that
// telling never takes more than a twentieth of a slow board. Marks are told at once all the same.
const breath = 20

// flush makes readings safe. While that fails it is tried again every few seconds only: there are more and
// more of them, and a slow disk would hold up everything else.
func (l *Loop) flush(ctx context.Context) {
	now := l.opts.Clock.Now()
	if since := now.Sub(l.tried); !l.tried.IsZero() && since >= 0 && since < retryEvery {
		l.pay(errors.New(l.health.journal.Err))
		return
	}
	if err := l.opts.Record.Flush(ctx); err != nil {
		l.tried = now
		l.failed("make readings safe", err)
		l.pay(err)
		return
	}
	l.tried, l.synced, l.health.journal.Err = time.Time{}, l.opts.Clock.Now(), ""
	l.pay(nil)
	if s, ok := l.opts.Record.(Standing); ok && s.Renewed() {
		if err := l.reread(ctx); err != nil {
			l.failed("read the record that is kept from now on", err)
		}
	}
}

// reread folds a record that is another than before.
func (l *Loop) reread(ctx context.Context) error {
	dating, err := startDating(ctx, l.opts)
	if err != nil {
		return err
	}
	if dating != nil {
		dating.moved, dating.by = l.dating.moved, l.dating.by
		l.dating = dating
	}
	if err := l.rebuild(ctx, nil); err != nil {
		return err
	}
	l.publish(l.now())
	return nil
}

// failed notes that the record could not be written; measuring and projecting go on from memory.
func (l *Loop) failed(doing string, err error) {
	if l.health.journal.Err == "" {
		l.opts.Log.Error("the journal fails; going on in memory", "doing", doing, "err", err)
	}
	l.health.journal.Err = fmt.Sprintf("%s: %v", doing, err)
}

// finish makes everything safe after the last reading, whether or not ctx has ended, and tells it.
func (l *Loop) finish(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer cancel()
	err := l.opts.Record.Flush(ctx)
	l.pay(err)
	if err != nil {
		return fmt.Errorf("make the last readings safe: %w", err)
	}
	l.synced = l.opts.Clock.Now()
	if l.opts.Replay {
		l.passed(l.opts.Clock.Now().UTC())
	}
	l.publish(l.now())
	return nil
}

// Mark puts a mark on record and returns it with its number once it is safe on disk. An error that
// wraps [ErrRefused] says what does not make sense; nothing was stored then.
func (l *Loop) Mark(ctx context.Context, m model.Mark) (model.Mark, error) {
	back := make(chan answer, 1)
	select {
	case l.asks <- ask{m, back}:
	case <-l.ended:
		return model.Mark{}, fmt.Errorf("hand the mark to the shop loop: %w", errEnded)
	case <-ctx.Done():
		return model.Mark{}, fmt.Errorf("hand the mark to the shop loop: %w", ctx.Err())
	}
	select {
	case a := <-back:
		return a.mark, a.err
	case <-ctx.Done():
		return model.Mark{}, fmt.Errorf("wait for the mark to be safe: %w", ctx.Err())
	}
}

// mark does what Mark promises, on the loop's goroutine.
func (l *Loop) mark(ctx context.Context, m model.Mark) (model.Mark, error) {
	l.passed(m.Entered)
	now := l.now()
	if m.Entered.IsZero() {
		m.Entered = now
	}
	if m.At.IsZero() {
		m.At = now
	}
	m = m.Rounded()
	if m.At.After(now.Add(clockSlack)) {
		return model.Mark{}, fmt.Errorf("%w: %s lies ahead of the shop clock (%s): enter it when it has happened",
			ErrRefused, m.At.Format(time.RFC3339), now.Format(time.RFC3339))
	}
	if err := l.shop.Accept(m); err != nil {
		return model.Mark{}, fmt.Errorf("%w: %w", ErrRefused, err)
	}
	safe, err := l.opts.Record.AppendMark(ctx, m)
	if err != nil {
		l.failed("record a mark", err)
		return model.Mark{}, fmt.Errorf("the mark is not safe, so it was not taken: %w", err)
	}
	l.health.journal.Marks++
	if err := l.fold(ctx, safe); err != nil {
		return model.Mark{}, err
	}
	l.publish(now)
	return safe, nil
}

// fold folds a mark that is on record, from the record itself where it reaches far back.
func (l *Loop) fold(ctx context.Context, m model.Mark) error {
	err := l.shop.Mark(m)
	if !errors.Is(err, model.ErrHistory) {
		return err
	}
	if err := l.rebuild(ctx, &m); err != nil {
		return fmt.Errorf("mark %d is safe but could not be folded yet: %w", m.ID, err)
	}
	return nil
}
