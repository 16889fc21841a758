package journal

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// takeIn copies what is whole of a wreck into the journal, from an hour on, where it is not there yet: what
// the journal holds already wins. It may be called for one wreck after the other, the one kept last first.
func (j *Journal) takeIn(ctx context.Context, w *wreck, hour int64) error {
	t := &taking{j: j, w: w, probe: map[uint16]uint16{}, number: map[int64]int64{}}
	for _, step := range []func(context.Context) error{
		w.readNames, t.probes, t.dating, t.marks, func(ctx context.Context) error { return t.readings(ctx, hour) },
	} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

// taking is one wreck on its way into a journal.
type taking struct {
	j      *Journal
	w      *wreck
	probe  map[uint16]uint16 // numbers of probes: there, here
	number map[int64]int64   // of marks: there, here
	shifts []sensors.Shift   // what was dated anew here since, and is not there
	tx     *sql.Tx
	inTx   int
}

// perTx is how many blocks are written at a time.
const perTx = 2000

// probes gives every probe of the wreck its number here.
func (t *taking) probes(ctx context.Context) error {
	for id, name := range t.w.names {
		if name != "" {
			if err := t.know(uint16(id)); err != nil {
				return err
			}
		}
	}
	return t.writeNames(ctx)
}

func (t *taking) know(id uint16) (err error) {
	if _, known := t.probe[id]; known {
		return nil
	}
	t.j.mu.Lock()
	defer t.j.mu.Unlock()
	t.probe[id], err = t.j.idOf(t.w.nameOf(id))
	return err
}

func (t *taking) writeNames(ctx context.Context) error {
	_, err := t.j.record(ctx, t.j.take(), nil)
	return err
}

// dating takes boots and shifts that are not known here.
func (t *taking) dating(ctx context.Context) error {
	boots, err := t.w.boots(ctx)
	have, err2 := t.j.Boots(ctx)
	shifts, err3 := t.w.shifts(ctx)
	known, err4 := t.j.Shifts(ctx)
	if err := errors.Join(err2, err4, ctx.Err()); err != nil {
		return err
	}
	t.w.loss.more = t.w.loss.more || err != nil || err3 != nil
	for _, b := range boots {
		if !slices.ContainsFunc(have, func(h sensors.Boot) bool { return h.ID == b.ID }) {
			if err := t.j.PutBoot(ctx, b); err != nil {
				return err
			}
		}
	}
	if len(known) > len(shifts) {
		t.shifts = known[len(shifts):]
		return nil
	}
	for _, s := range shifts[len(known):] {
		if err := t.j.insertShift(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// dated is an instant of the wreck as it was dated anew here since.
func (t *taking) dated(ms int64) int64 {
	for _, s := range t.shifts {
		if ms >= s.From.UnixMilli() {
			ms += s.By.Milliseconds()
		}
	}
	return ms
}

// marks takes the marks that are not here. One whose number is taken by another mark gets a new number,
// beyond all others.
func (t *taking) marks(ctx context.Context) error {
	have, err := t.j.Marks(ctx)
	if err != nil {
		return err
	}
	here := map[int64]model.Mark{}
	var free int64
	for _, m := range have {
		here[m.ID] = m
		free = max(free, m.ID)
	}
	var there []model.Mark
	err = t.w.marks(ctx, func(m model.Mark) error {
		there = append(there, m)
		free = max(free, m.ID)
		return nil
	})
	if err != nil {
		return err
	}
	into := Restored{j: t.j}
	for _, m := range there {
		id := m.ID
		m.At, m.Entered = time.UnixMilli(t.dated(m.At.UnixMilli())).UTC(), time.UnixMilli(t.dated(m.Entered.UnixMilli())).UTC()
		if other, taken := here[id]; taken {
			if same(other, m) {
				t.number[id] = id
				continue
			}
			free++
			m.ID = free
		}
		if m.Corrects != 0 {
			m.Corrects = t.number[m.Corrects]
			if m.Corrects == 0 && m.Kind == model.Withdrawn { // what it withdraws is lost, too
				continue
			}
		}
		if err := into.PutMark(ctx, m); err != nil {
			return err
		}
		t.number[id] = m.ID
	}
	return nil
}

// same reports whether two marks of one number were entered as one: then one is a copy of the other.
func same(a, b model.Mark) bool {
	return a.Entered.Equal(b.Entered) && a.At.Equal(b.At) && a.Kind == b.Kind && a.Mold == b.Mold
}

// readings takes the readings that are not here, packed.
func (t *taking) readings(ctx context.Context, hour int64) (err error) {
	defer func() {
		if t.tx != nil {
			t.tx.Rollback() // only after an error
		}
		if err != nil {
			err = explain("copy to", t.j.path, err)
		}
	}()
	err = t.w.blocks(ctx, hour, func(p place, data []byte, samples []sample) error { return t.block(ctx, p, data, samples) })
	if err != nil {
		return err
	}
	var rest []sample
	err = t.w.tail(ctx, hour*hourMS, func(s sample) { rest = append(rest, s) })
	if err != nil {
		return err
	}
	for _, s := range rest {
		if err := t.know(s.probe); err != nil {
			return err
		}
	}
	if err := t.merge(ctx, rest); err != nil {
		return err
	}
	return t.commit()
}

// block takes one block, as it is where nothing is here of its place.
func (t *taking) block(ctx context.Context, p place, data []byte, samples []sample) error {
	if err := t.know(p.probe()); err != nil {
		return err
	}
	if err := t.begin(ctx); err != nil {
		return err
	}
	to := placeOf(p.hour(), t.probe[p.probe()])
	moved := len(t.shifts) > 0 && len(samples) > 0 && t.dated(samples[len(samples)-1].at) != samples[len(samples)-1].at
	if to == p && !moved {
		var have []byte
		err := t.tx.QueryRowContext(ctx, "SELECT data FROM blocks WHERE id = ?", int64(p)).Scan(&have)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			_, err := t.tx.ExecContext(ctx, "INSERT INTO blocks (id, data) VALUES (?, ?)", int64(p), data)
			return err
		case err != nil:
			return err
		case bytes.Equal(have, data):
			return nil
		}
	}
	return t.merge(ctx, slices.Clone(samples))
}

// merge packs samples of the wreck, as dated and numbered here, into the blocks.
func (t *taking) merge(ctx context.Context, samples []sample) error {
	if err := t.begin(ctx); err != nil {
		return err
	}
	for i := range samples {
		samples[i].probe, samples[i].at = t.probe[samples[i].probe], t.dated(samples[i].at)
	}
	slices.SortStableFunc(samples, byPlace)
	samples = slices.CompactFunc(samples, func(a, b sample) bool { return byPlace(a, b) == 0 })
	_, held, err := t.j.pack(ctx, t.tx, samples)
	if err == nil && len(held) > 0 {
		err = insertTail(ctx, t.tx, held)
	}
	return err
}

func (t *taking) begin(ctx context.Context) (err error) {
	if t.tx != nil && t.inTx >= perTx {
		if err := t.commit(); err != nil {
			return err
		}
	}
	if t.tx == nil {
		if err := t.writeNames(ctx); err != nil {
			return err
		}
		t.tx, err = t.j.write.BeginTx(ctx, nil)
		t.inTx = 0
	}
	t.inTx++
	return err
}

func (t *taking) commit() error {
	if t.tx == nil {
		return nil
	}
	err := t.tx.Commit()
	t.tx = nil
	return err
}
