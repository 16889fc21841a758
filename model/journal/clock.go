package journal

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"pourward/sensors"
)

// Boots returns every boot on record, in order of what was first recorded in it.
func (j *Journal) Boots(ctx context.Context) ([]sensors.Boot, error) {
	rows, err := j.read.QueryContext(ctx, "SELECT id, zero_ms, first_ms, trusted FROM boots ORDER BY first_ms")
	if err != nil {
		return nil, explain("read the boots of", j.path, err)
	}
	defer rows.Close()
	var boots []sensors.Boot
	for rows.Next() {
		var b sensors.Boot
		var zero, first int64
		if err := rows.Scan(&b.ID, &zero, &first, &b.Trusted); err != nil {
			return nil, explain("read the boots of", j.path, err)
		}
		b.Zero, b.First = time.UnixMilli(zero).UTC(), time.UnixMilli(first).UTC()
		boots = append(boots, b)
	}
	if err := rows.Err(); err != nil {
		return nil, explain("read the boots of", j.path, err)
	}
	return boots, nil
}

// PutBoot records a boot, or how it is labelled now.
func (j *Journal) PutBoot(ctx context.Context, b sensors.Boot) error {
	j.writing.Lock()
	defer j.writing.Unlock()
	if j.closed || j.write == nil {
		return fmt.Errorf("record a boot in journal %s: %w", j.path, j.refusal())
	}
	if _, err := j.write.ExecContext(ctx, putBoot, b.ID, b.Zero.UnixMilli(), b.First.UnixMilli(), b.Trusted); err != nil {
		return explain("write to", j.path, err)
	}
	return nil
}

const putBoot = `INSERT INTO boots (id, zero_ms, first_ms, trusted) VALUES (?, ?, ?, ?)
	ON CONFLICT (id) DO UPDATE SET zero_ms = excluded.zero_ms, first_ms = excluded.first_ms, trusted = excluded.trusted`

// Redate moves what was recorded in boot b from b.First on by a span, readings and marks alike, because the
// time they were labelled with was wrong. All of it is moved or nothing. It returns the boot as it is
// labelled now.
func (j *Journal) Redate(ctx context.Context, b sensors.Boot, by time.Duration) (sensors.Boot, error) {
	j.writing.Lock()
	defer j.writing.Unlock()
	if j.closed || j.write == nil {
		return b, fmt.Errorf("date journal %s anew: %w", j.path, j.refusal())
	}
	if j.held == nil {
		if err := j.flush(ctx); err != nil {
			return b, err
		}
	}
	moved := b
	moved.Zero, moved.First = b.Zero.Add(by), b.First.Add(by)
	if err := j.redate(ctx, b, moved); err != nil {
		return b, explain("date anew", j.path, err)
	}
	if j.held != nil {
		j.moveWaiting(b.First.UnixMilli(), by.Milliseconds())
	}
	return moved, nil
}

// redate moves everything in one transaction and keeps the mirror of the tail in step.
func (j *Journal) redate(ctx context.Context, was, now sensors.Boot) error {
	from, by := was.First.UnixMilli(), now.First.Sub(was.First).Milliseconds()
	tx, err := j.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing after a commit
	unpacked, _, err := tailRows(ctx, tx, from, endMS)
	if err != nil {
		return err
	}
	packed, err := j.unpackFrom(ctx, tx, from)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM tail WHERE at_ms >= ?", from); err != nil {
		return err
	}
	slices.SortFunc(unpacked, byPlace)
	shifted := slices.Concat(packed, unpacked)
	for i := range shifted {
		shifted[i].at += by
	}
	slices.SortFunc(shifted, byPlace)
	if _, held, err := j.pack(ctx, tx, shifted); err != nil {
		return err
	} else if err := insertTail(ctx, tx, held); err != nil {
		return err
	}
	if err := moveMarks(ctx, tx, was, now); err != nil {
		return err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if err := tx.Commit(); err != nil {
		return err
	}
	j.head.removeAll(unpacked)
	return nil
}

// byPlace puts samples in order of probe and instant.
func byPlace(a, b sample) int { return cmp.Or(cmp.Compare(a.probe, b.probe), cmp.Compare(a.at, b.at)) }

// unpackFrom takes all samples from an instant on out of their blocks. A damaged block stays as it is.
func (j *Journal) unpackFrom(ctx context.Context, tx *sql.Tx, from int64) ([]sample, error) {
	ids, err := blocksFrom(ctx, tx, hourOf(from))
	if err != nil {
		return nil, err
	}
	var out []sample
	var u unpacker
	for _, id := range ids {
		var data []byte
		if err := tx.QueryRowContext(ctx, "SELECT data FROM blocks WHERE id = ?", int64(id)).Scan(&data); err != nil {
			return nil, err
		}
		have, damage := u.unpack(id, data, nil)
		if damage != nil {
			j.opts.Log.Error("a block of readings is damaged and is not dated anew", "path", j.path, "probe", j.name(id.probe()), "cause", damage)
			continue
		}
		out = append(out, slices.Clone(within(have, from, endMS))...)
		if err := rewrite(ctx, tx, id, within(have, 0, from)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func blocksFrom(ctx context.Context, tx *sql.Tx, hour int64) ([]place, error) {
	rows, err := tx.QueryContext(ctx, "SELECT id FROM blocks WHERE id >= ? ORDER BY id", hour<<16)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var ids []place
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, place(id))
	}
	return ids, rows.Err()
}

// rewrite leaves a block with the samples that stay.
func rewrite(ctx context.Context, tx *sql.Tx, id place, stay []sample) error {
	if len(stay) == 0 {
		_, err := tx.ExecContext(ctx, "DELETE FROM blocks WHERE id = ?", int64(id))
		return err
	}
	_, err := tx.ExecContext(ctx, "UPDATE blocks SET data = ? WHERE id = ?", pack(id, stay), int64(id))
	return err
}

// moveMarks moves the marks that were entered in the boot: when they were entered, and when they happened
// if that lies in the boot too; what a person said of before stays. A damaged mark stays as it is.
func moveMarks(ctx context.Context, tx *sql.Tx, was, now sensors.Boot) error {
	from, by := was.First.UnixMilli(), now.First.Sub(was.First).Milliseconds()
	var whole []int64
	err := eachMark(ctx, tx, "entered_ms >= ?", []any{from}, func(c checkedMark) {
		if c.whole {
			whole = append(whole, c.id)
		}
	})
	if err != nil {
		return err
	}
	for _, id := range whole {
		_, err := tx.ExecContext(ctx, `UPDATE marks SET at_ms = at_ms + iif(at_ms >= ?1, ?2, 0), entered_ms = entered_ms + ?2
			WHERE id = ?3`, from, by, id)
		if err := errors.Join(err, sumMarks(ctx, tx, "id = ?", id)); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, putBoot, now.ID, now.Zero.UnixMilli(), now.First.UnixMilli(), now.Trusted); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO shifts (boot, from_ms, by_ms) VALUES (?, ?, ?)", was.ID, from, by)
	return err
}
