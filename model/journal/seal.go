package journal

import (
	"context"
	"database/sql"
	"errors"
)

// seal packs all hours that the batch leaves behind and leaves the rest as the tail, in one
// transaction. Readers see the change of the file and of the mirror at once.
func (j *Journal) seal(ctx context.Context, b batch) error {
	tx, err := j.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing after a commit
	if err := insertProbes(ctx, tx, b); err != nil {
		return err
	}
	packed, held, err := j.pack(ctx, tx, b.past)
	if err != nil {
		return err
	}
	lo, hi := b.open()
	if _, err := tx.ExecContext(ctx, "DELETE FROM tail WHERE at_ms < ? OR at_ms >= ?", lo, hi); err != nil {
		return err
	}
	rows := held
	for _, s := range b.rows {
		if lo <= s.at && s.at < hi {
			rows = append(rows, s)
		}
	}
	if err := insertTail(ctx, tx, rows); err != nil {
		return err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if err := tx.Commit(); err != nil {
		return err
	}
	j.head.removeAll(packed)
	j.done(b)
	return nil
}

// pack writes samples, rising in time within each probe, into their blocks. Those whose block is
// damaged are held back: to write the block anew would destroy what may still be rescued from it.
func (j *Journal) pack(ctx context.Context, tx *sql.Tx, samples []sample) (packed, held []sample, err error) {
	var u unpacker
	for len(samples) > 0 {
		p := samples[0].place()
		n := 1
		for n < len(samples) && samples[n].place() == p {
			n++
		}
		group := samples[:n]
		samples = samples[n:]
		damage, err := merge(ctx, tx, &u, p, group)
		if err != nil {
			return nil, nil, err
		}
		if damage != nil {
			j.opts.Log.Error("a block of readings is damaged; late readings for it are kept unpacked",
				"path", j.path, "probe", j.name(p.probe()), "hour", p.start(), "cause", damage)
			held = append(held, group...)
			continue
		}
		packed = append(packed, group...)
	}
	return packed, held, nil
}

func (j *Journal) name(probe uint16) string {
	j.mu.RLock()
	defer j.mu.RUnlock()
	return j.names[probe]
}

// merge adds samples to the block at p; those already there win. It reports damage of that block apart
// from errors of the database.
func merge(ctx context.Context, tx *sql.Tx, u *unpacker, p place, samples []sample) (damage, err error) {
	var data []byte
	err = tx.QueryRowContext(ctx, "SELECT data FROM blocks WHERE id = ?", int64(p)).Scan(&data)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return nil, err
	default:
		have, damage := u.unpack(p, data, nil)
		if damage != nil {
			return damage, nil
		}
		samples = union(have, samples)
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO blocks (id, data) VALUES (?, ?)
		ON CONFLICT (id) DO UPDATE SET data = excluded.data`, int64(p), pack(p, samples))
	return nil, err
}

// union merges two series of one probe, each rising in time. Where both have an instant, a wins.
func union(a, b []sample) []sample {
	switch {
	case len(b) == 0:
		return a
	case len(a) == 0 || a[len(a)-1].at < b[0].at:
		return append(a, b...)
	}
	out := make([]sample, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0].at < b[0].at:
			out, a = append(out, a[0]), a[1:]
		case a[0].at > b[0].at:
			out, b = append(out, b[0]), b[1:]
		default:
			out, a, b = append(out, a[0]), a[1:], b[1:]
		}
	}
	return append(append(out, a...), b...)
}
