package loop

import (
	"context"
	"fmt"
	"time"

	"pourward/sensors"
)

// Labeling is a clock whose labels may turn out wrong, such as a [sensors.BoardClock].
type Labeling interface {
	sensors.Clock
	Boot(first time.Time) sensors.Boot
	Off() (by time.Duration, off bool)
	Shift(by time.Duration)
}

// Dating is a [Record] that knows under which labels things were recorded, and can date them anew.
type Dating interface {
	Boots(context.Context) ([]sensors.Boot, error)
	PutBoot(context.Context, sensors.Boot) error
	Redate(ctx context.Context, b sensors.Boot, by time.Duration) (sensors.Boot, error)
}

// dating keeps clock and record in step. A label that was right once stays so until the next boot: that no time server
// has been heard for a day makes none wrong.
type dating struct {
	clock  Labeling
	record Dating
	before []sensors.Boot // on record, this one left out
	now    sensors.Boot
	moved  time.Time     // when the label was moved last, by the new label
	by     time.Duration // and by how much
}

// startDating notes this boot; nil where clock or record know nothing of labels.
func startDating(ctx context.Context, opts Options) (*dating, error) {
	clock, labels := opts.Clock.(Labeling)
	record, dates := opts.Record.(Dating)
	if !labels || !dates {
		return nil, nil
	}
	boots, err := record.Boots(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the boots on record: %w", err)
	}
	d := &dating{clock: clock, record: record, now: clock.Boot(clock.Now().UTC())}
	for _, b := range boots {
		if b.ID == d.now.ID {
			d.now.First, d.now.Trusted = b.First, d.now.Trusted || b.Trusted
		} else {
			d.before = append(d.before, b)
		}
	}
	if err := record.PutBoot(ctx, d.now); err != nil {
		return nil, fmt.Errorf("record this boot: %w", err)
	}
	return d, nil
}

// onItsWay is for how long after the label was moved readings may come that were taken before.
const onItsWay = time.Minute

// dated puts right the label of a reading that was on its way when the label was moved.
func (d *dating) dated(r sensors.Reading) sensors.Reading {
	if d == nil || d.moved.IsZero() {
		return r
	}
	now := d.clock.Now()
	if late := now.Sub(d.moved); late >= 0 && late < onItsWay && r.At.Add(d.by).Sub(now).Abs() < r.At.Sub(now).Abs() {
		r.At = r.At.Add(d.by)
	}
	return r
}

func (d *dating) trusted() bool { return d == nil || d.now.Trusted }

// breaks are the instants before which nobody knows how long the board was off: between two boots of
// which one never learned the time of day.
func (d *dating) breaks() []time.Time {
	if d == nil {
		return nil
	}
	var out []time.Time
	for i, b := range append(d.before, d.now) {
		if i > 0 && !(b.Trusted && d.before[i-1].Trusted) {
			out = append(out, b.First)
		}
	}
	return out
}

// checkClock dates this boot anew when its label turns out wrong, and notes when it comes to be trusted.
func (l *Loop) checkClock(ctx context.Context) {
	d := l.dating
	if d == nil {
		return
	}
	if by, off := d.clock.Off(); off {
		if err := l.redate(ctx, by); err != nil {
			l.failed("date this boot anew", err)
		}
		return
	}
	if now := d.clock.Boot(d.now.First); now.Trusted && !d.now.Trusted {
		d.now = now
		if err := d.record.PutBoot(ctx, now); err != nil {
			l.failed("record that the clock is trusted", err)
		}
		l.shop.SetBreaks(d.breaks())
	}
}

// redate moves what was recorded in this boot, then the label, and folds the record again.
func (l *Loop) redate(ctx context.Context, by time.Duration) error {
	d := l.dating
	was := d.now
	was.Trusted = true // the label is being put right
	moved, err := d.record.Redate(ctx, was, by)
	if err != nil {
		return err
	}
	l.opts.Log.Warn("the time of day was set; what was recorded since the board started is dated anew", "by", by)
	d.clock.Shift(by)
	d.now, d.moved, d.by = moved, d.clock.Now(), by
	l.health.started = l.health.started.Add(by)
	l.shifts = append(l.shifts, sensors.Shift{Boot: was.ID, From: was.First, By: by})
	l.synced = l.opts.Clock.Now()
	if err := l.rebuild(ctx, nil); err != nil {
		return err
	}
	l.publish(l.opts.Clock.Now().UTC()) // even if that lies before what was told last, under the old label
	return nil
}
