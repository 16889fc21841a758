package journal

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Keeper keeps a shop's record in its journal, and goes on where that cannot be used: in a rescue journal
// beside one that is damaged, of a newer version, or none at all; in memory while the disk is full, must
// not be written, or another daemon keeps the journal. In memory no mark is taken, for none would be safe.
// From memory it goes back to a file by itself, at the first [Keeper.Flush] that can.
//
// All its methods may be called from any goroutine.
type Keeper struct {
	path string
	opts Options

	mu      sync.RWMutex
	j       *Journal
	stand   model.RecordStand
	found   []Damage         // blocks of j that turned out damaged
	changed []model.LostMark // marks of j that did
	broken  error            // damage to the structure of j that a query has met, and no flush yet
	renewed bool
	redated []redating // while in memory
}

// redating is a change of dates that the file has not seen.
type redating struct {
	boot sensors.Boot
	by   time.Duration
}

// Keep opens the journal at path, or what stands in for it. It fails only when ctx ends, or when not even
// memory can be had.
func Keep(ctx context.Context, path string, opts Options) (*Keeper, error) {
	k := &Keeper{path: path, opts: opts.withDefaults()}
	j, stand, err := k.best(ctx)
	if err != nil {
		return nil, err
	}
	k.j, k.stand = j, stand
	if stand.Why != "" {
		k.opts.Log.Error("the record cannot be kept in its file", "state", stand.State, "why", stand.Why, "rescue", stand.Rescue)
	}
	return k, nil
}

// best opens the best place for the record that there is now.
func (k *Keeper) best(ctx context.Context) (*Journal, model.RecordStand, error) {
	j, err := Open(ctx, k.path, k.opts)
	if err == nil {
		return j, k.sound(), nil
	}
	return k.instead(ctx, err)
}

// sound is where a record stands that is in its file.
func (k *Keeper) sound() model.RecordStand {
	s := model.RecordStand{State: model.RecordSound, File: k.path}
	if beside := Rescues(k.path); len(beside) > 0 {
		s.State, s.Rescue = model.RecordApart, beside[len(beside)-1]
		s.Why = "a rescue journal lies beside it, of which nobody knows whether it is in"
	}
	return s
}

// instead opens what stands in for a journal that cannot be used.
func (k *Keeper) instead(ctx context.Context, why error) (*Journal, model.RecordStand, error) {
	if ctx.Err() != nil {
		return nil, model.RecordStand{}, why
	}
	stand := model.RecordStand{State: recordState(why), File: k.path}
	if lasting(why) {
		j, s, err := openRescue(ctx, k.path, k.opts)
		if err == nil {
			stand.Why, stand.Rescue, stand.Lost, stand.Blank = why.Error(), j.path, s.told(), s.blank
			return j, stand, nil
		}
		why = fmt.Errorf("%w; %w", why, err)
		if errors.Is(err, ErrInUse) {
			stand.State = model.RecordInUse
		}
	}
	j, s, err := hold(ctx, k.path, k.opts, why)
	stand.Why, stand.InMemory, stand.Lost, stand.Blank = why.Error(), true, s.told(), s.blank
	return j, stand, err
}

// recordState names what is wrong with a file.
func recordState(err error) model.RecordState {
	for _, c := range []struct {
		err   error
		state model.RecordState
	}{
		{ErrDamaged, model.RecordDamaged}, {ErrNewer, model.RecordNewer}, {ErrNotJournal, model.RecordForeign},
		{ErrInUse, model.RecordInUse}, {ErrNoSpace, model.RecordNoRoom}, {ErrReadOnly, model.RecordReadOnly},
	} {
		if errors.Is(err, c.err) {
			return c.state
		}
	}
	return model.RecordShut
}

// told is a loss as people are told it: hours in a row are one span.
func (s salvage) told() model.Lost {
	lost := model.Lost{Spans: spans(s.hours), Marks: s.marks, More: s.more}
	for _, c := range s.changed {
		lost.Changed = append(lost.Changed, c.lost())
	}
	return lost
}

func spans(hours []Damage) (out []model.LostSpan) {
	slices.SortFunc(hours, func(a, b Damage) int { return cmp.Or(cmp.Compare(a.Probe, b.Probe), a.Hour.Compare(b.Hour)) })
	for _, d := range hours {
		if n := len(out); n > 0 && out[n-1].Probe == d.Probe && !out[n-1].To.Before(d.Hour) {
			out[n-1].To = d.Hour.Add(time.Hour)
			continue
		}
		out = append(out, model.LostSpan{Probe: d.Probe, From: d.Hour, To: d.Hour.Add(time.Hour)})
	}
	return out
}

// current is the journal in use.
func (k *Keeper) current() *Journal {
	k.mu.RLock()
	defer k.mu.RUnlock()
	return k.j
}

// Stand tells where the record is kept and what is missing.
func (k *Keeper) Stand() model.RecordStand {
	k.mu.RLock()
	defer k.mu.RUnlock()
	s := k.stand
	s.Lost.Spans = append(slices.Clip(s.Lost.Spans), spans(slices.Clone(k.found))...)
	s.Lost.Changed = append(slices.Clip(s.Lost.Changed), k.changed...)
	s.Lost.More = s.Lost.More || k.j.unread > 0
	if s.State == model.RecordSound && s.Lost.Any() {
		s.State = model.RecordMarred
	}
	return s
}

// Renewed reports, once, that the record is another than the one that was read from it so far.
func (k *Keeper) Renewed() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	was := k.renewed
	k.renewed = false
	return was
}

// Flush makes the readings that wait safe. A record in memory is moved to a file as soon as one can be had;
// one whose file turns out damaged, to a rescue journal; one whose file is gone, to a new one.
func (k *Keeper) Flush(ctx context.Context) error {
	j := k.current()
	err := j.Flush(ctx)
	if err == nil {
		err = k.met()
	}
	switch {
	case err == nil:
		return k.stillThere(ctx)
	case j.held != nil:
		return k.move(ctx, err, k.back)
	case structural(err):
		return k.SetAside(ctx, err)
	}
	return err
}

// AppendMark is [Journal.AppendMark]. When only this shows that the file is damaged or gone, the mark goes to
// the file that is kept from then on.
func (k *Keeper) AppendMark(ctx context.Context, m model.Mark) (model.Mark, error) {
	j := k.current()
	kept, err := j.AppendMark(ctx, m)
	switch {
	case err == nil:
		if err := k.stillThere(ctx); err != nil {
			return m, fmt.Errorf("record mark %q: %w", m, err)
		}
		return kept, nil
	case j.held == nil && structural(err) && k.SetAside(ctx, err) == nil:
		return k.current().AppendMark(ctx, m)
	}
	return m, err
}

// structural reports whether the file itself is damaged, not only a block of readings or a mark in it.
func structural(err error) bool {
	return (errors.Is(err, ErrDamaged) || errors.Is(err, ErrNotJournal)) && !errors.As(err, new(*DamageError))
}

// note remembers damage to the structure of the file, for the next flush to set it aside, and hands on the error.
func (k *Keeper) note(err error) error {
	if structural(err) {
		k.mu.Lock()
		defer k.mu.Unlock()
		k.broken = err
	}
	return err
}

func (k *Keeper) met() error {
	k.mu.RLock()
	defer k.mu.RUnlock()
	return k.broken
}

// SetAside gives up a journal whose file turned out damaged for a rescue journal.
func (k *Keeper) SetAside(ctx context.Context, damage error) error {
	if !structural(damage) {
		return damage
	}
	return k.move(ctx, damage, func(ctx context.Context) (*Journal, model.RecordStand, error) { return k.instead(ctx, damage) })
}

// back opens a file for a record in memory, or says that there is none yet.
func (k *Keeper) back(ctx context.Context) (*Journal, model.RecordStand, error) {
	stand := k.Stand()
	j, err := Open(ctx, k.path, k.opts)
	if err == nil {
		return j, k.sound(), nil
	}
	if !lasting(err) {
		return nil, stand, err
	}
	j, s, rescueErr := openRescue(ctx, k.path, k.opts)
	if rescueErr != nil {
		return nil, stand, rescueErr
	}
	return j, model.RecordStand{State: recordState(err), File: k.path, Why: err.Error(), Rescue: j.path, Lost: s.told(), Blank: s.blank}, nil
}

// move takes the readings that wait from one journal to another. When there is no other, a record in memory stays
// where it is, and one in a file goes to memory: the file was let go of.
func (k *Keeper) move(ctx context.Context, before error, to func(context.Context) (*Journal, model.RecordStand, error)) error {
	old := k.current()
	if old.held == nil { // its lock is free for whoever opens it next, and rescue begins with what it holds
		if err := old.abandon(); err != nil {
			k.opts.Log.Warn("the damaged journal was not closed well", "why", err)
		}
	}
	err := k.moveTo(ctx, old, to)
	if err != nil {
		k.opts.Log.Warn("the record cannot be kept where it was to go", "why", err)
		if old.held != nil {
			return before
		}
		err = k.moveTo(ctx, old, func(ctx context.Context) (*Journal, model.RecordStand, error) {
			j, s, err := hold(ctx, k.path, k.opts, before)
			return j, model.RecordStand{State: recordState(before), File: k.path, Why: before.Error(), InMemory: true, Lost: s.told(), Blank: s.blank}, err
		})
	}
	if err != nil {
		return before
	}
	if next := k.current(); next.held != nil {
		return next.Flush(ctx)
	}
	return nil
}

// moveTo is one try of it.
func (k *Keeper) moveTo(ctx context.Context, old *Journal, to func(context.Context) (*Journal, model.RecordStand, error)) error {
	next, stand, err := to(ctx)
	if err != nil {
		return err
	}
	if err := k.carry(ctx, old, next, stand); err != nil {
		return errors.Join(err, next.abandon())
	}
	k.mu.Lock()
	k.j, k.stand, k.renewed, k.redated, k.found, k.changed, k.broken = next, stand, true, nil, nil, nil, nil
	k.mu.Unlock()
	k.opts.Log.Warn("the record is kept elsewhere from now on", "state", stand.State, "in", next.path, "in memory", stand.InMemory)
	return nil
}

// carry brings the readings that wait in one journal to another, with the dates they have now.
func (k *Keeper) carry(ctx context.Context, old, next *Journal, stand model.RecordStand) error {
	if k.Stand().State != model.RecordInUse { // the other daemon has dated anew what it recorded
		if err := k.redateLike(ctx, next); err != nil {
			return err
		}
	}
	for _, r := range old.waitingReadings() {
		if err := next.AppendReading(r); err != nil {
			return err
		}
	}
	if next.held != nil {
		return nil
	}
	if err := next.Flush(ctx); err != nil || old.held == nil {
		return err
	}
	return old.release()
}

// redateLike does to a journal what was dated anew while the record was in memory.
func (k *Keeper) redateLike(ctx context.Context, next *Journal) error {
	boots, err := next.Boots(ctx)
	if err != nil {
		return err
	}
	for _, r := range k.redated {
		for _, b := range boots {
			if b.ID != r.boot.ID {
				continue
			}
			if _, err := next.Redate(ctx, r.boot, r.by); err != nil {
				return err
			}
		}
	}
	return nil
}

// abandon lets go of a file without writing to it; readings that wait stay in memory.
func (j *Journal) abandon() error {
	j.writing.Lock()
	defer j.writing.Unlock()
	j.closed = true
	return j.release()
}

// Close makes everything safe as [Journal.Close] does.
func (k *Keeper) Close(ctx context.Context) error {
	err := k.stillThere(ctx)
	return errors.Join(err, k.current().Close(ctx))
}
