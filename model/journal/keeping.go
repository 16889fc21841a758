package journal

import (
	"context"
	"errors"
	"slices"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// What follows is what the journal in use does, with one difference: readings and marks that are lost to
// damage are noted and told by [Keeper.Stand], and no reason to stop.

// tolerate notes damaged blocks and marks; any other error stays, and damage
// to the structure is remembered.
func (k *Keeper) tolerate(err error) error {
	var damage *DamageError
	if !errors.As(err, &damage) {
		return k.note(err)
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	for _, d := range damage.Blocks {
		known := func(x Damage) bool { return x.Probe == d.Probe && x.Hour.Equal(d.Hour) }
		if !slices.ContainsFunc(k.found, known) {
			k.found = append(k.found, d)
			k.opts.Log.Error("readings are lost to damage in the file", "path", damage.Path, "probe", d.Probe, "hour", d.Hour, "cause", d.Cause)
		}
	}
	for _, m := range damage.Marks {
		if !slices.Contains(k.changed, m) {
			k.changed = append(k.changed, m)
			k.opts.Log.Error("a mark was changed by damage in the file and is left out", "path", damage.Path, "mark", m.ID, "reads", m.Reads)
		}
	}
	return nil
}

// AppendReading is [Journal.AppendReading].
func (k *Keeper) AppendReading(r sensors.Reading) error { return k.current().AppendReading(r) }

// Waiting is [Journal.Waiting].
func (k *Keeper) Waiting() int { return k.current().Waiting() }

// Marks is [Journal.Marks].
func (k *Keeper) Marks(ctx context.Context) ([]model.Mark, error) {
	marks, err := k.current().Marks(ctx)
	return marks, k.tolerate(err)
}

// Readings is [Journal.Readings].
func (k *Keeper) Readings(ctx context.Context, from, to time.Time, yield func(sensors.Reading) error) error {
	return k.tolerate(k.current().Readings(ctx, from, to, yield))
}

// Trace is [Journal.Trace].
func (k *Keeper) Trace(ctx context.Context, probe string, from, to time.Time) ([]sensors.Reading, error) {
	readings, err := k.current().Trace(ctx, probe, from, to)
	return readings, k.tolerate(err)
}

// Span is [Journal.Span].
func (k *Keeper) Span(ctx context.Context) (first, last time.Time, err error) {
	first, last, err = k.current().Span(ctx)
	return first, last, k.tolerate(err)
}

// LastOf is [Journal.LastOf].
func (k *Keeper) LastOf(ctx context.Context, probe string) (time.Time, error) {
	at, err := k.current().LastOf(ctx, probe)
	return at, k.tolerate(err)
}

// Boots is [Journal.Boots].
func (k *Keeper) Boots(ctx context.Context) ([]sensors.Boot, error) {
	boots, err := k.current().Boots(ctx)
	return boots, k.note(err)
}

// PutBoot is [Journal.PutBoot].
func (k *Keeper) PutBoot(ctx context.Context, b sensors.Boot) error {
	return k.note(k.current().PutBoot(ctx, b))
}

// Redate is [Journal.Redate]. What is dated anew in memory is so in the file once it can be written.
func (k *Keeper) Redate(ctx context.Context, b sensors.Boot, by time.Duration) (sensors.Boot, error) {
	j := k.current()
	moved, err := j.Redate(ctx, b, by)
	if err == nil && j.held != nil {
		k.mu.Lock()
		k.redated = append(k.redated, redating{b, by})
		k.mu.Unlock()
	}
	return moved, k.note(err)
}
