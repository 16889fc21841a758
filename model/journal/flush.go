package journal

import (
	"context"
	"database/sql"
	"fmt"
)

// graceMS is how long after the turn of the hour the past hour is sealed, so that readings that come
// over a network in a moment do not open its blocks again.
const graceMS = 2 * 60 * 1000

// batch is what waits at one instant.
type batch struct {
	rows  []sample
	end   uint64   // running number of the sample after the last of rows
	names []string // probes that the file does not know
	first int      // id of the first of names

	hour int64    // of the newest of rows, with grace
	past []sample // if hour has turned: all of the head that is to be packed
}

// open returns the interval in ms that stays unpacked: the batch's hour, and the next, of which it may
// have readings already.
func (b batch) open() (lo, hi int64) { return b.hour * hourMS, (b.hour + 2) * hourMS }

// Flush makes the readings that wait durable, all in one transaction. When it fails they keep waiting
// for the next one. When the hour has turned it also packs the past hour.
func (j *Journal) Flush(ctx context.Context) error {
	j.writing.Lock()
	defer j.writing.Unlock()
	if j.closed || j.write == nil {
		return fmt.Errorf("flush journal %s: %w", j.path, j.refusal())
	}
	if j.held != nil {
		return j.notWritten()
	}
	return j.flush(ctx)
}

func (j *Journal) flush(ctx context.Context) error {
	b := j.take()
	if len(b.rows) == 0 {
		return j.prove(ctx)
	}
	var damage error // that only packing has met
	if b.hour != j.hour {
		err := j.seal(ctx, b)
		if err == nil {
			j.hour, j.suspect = b.hour, false
			return nil
		}
		err = explain("pack hours of", j.path, err)
		if structural(err) {
			damage = err
		}
		if ctx.Err() == nil {
			j.opts.Log.Error("past hours could not be packed; readings are kept unpacked", "path", j.path, "error", err)
		}
	}
	if _, err := j.record(ctx, b, nil); err != nil {
		j.suspect = true
		return j.unflushed(err)
	}
	j.suspect = false
	j.hour = b.hour // a failed packing is tried again when the hour turns next
	return damage
}

// prove makes sure, after a write that failed, that the file can be written again, by writing what is there.
func (j *Journal) prove(ctx context.Context) error {
	if !j.suspect {
		return nil
	}
	var version int
	if err := j.write.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return explain("write to", j.path, err)
	}
	if _, err := j.write.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", version)); err != nil {
		return explain("write to", j.path, err)
	}
	j.suspect = false
	return nil
}

func (j *Journal) unflushed(err error) error {
	err = explain("write to", j.path, err)
	if lost := j.Lost(); lost > 0 {
		return fmt.Errorf("%w; %d readings were given up, %d wait", err, lost, j.Waiting())
	}
	return fmt.Errorf("%w; %d readings wait in memory", err, j.Waiting())
}

func (j *Journal) take() batch {
	j.mu.RLock()
	defer j.mu.RUnlock()
	n := len(j.waiting)
	b := batch{rows: j.waiting[:n:n], end: j.begin + uint64(n), names: j.names[j.saved+1:], first: j.saved + 1}
	newest := int64(0)
	for _, s := range b.rows {
		newest = max(newest, s.at)
	}
	b.hour = hourOf(max(newest-graceMS, 0))
	if n > 0 && b.hour != j.hour {
		b.past = j.head.outside(b.open())
	}
	return b
}

// done notes that a batch is in the file. The caller holds j.mu.
func (j *Journal) done(b batch) {
	if n := b.end - min(b.end, j.begin); n > 0 {
		j.waiting, j.begin = j.waiting[n:], b.end
	}
	if len(j.waiting) == 0 {
		j.waiting = nil
	}
	j.saved = max(j.saved, b.first+len(b.names)-1)
}

// record writes a batch to the tail, and a mark if there is one, and returns the mark's ID.
func (j *Journal) record(ctx context.Context, b batch, mark *markRow) (int64, error) {
	tx, err := j.write.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer tx.Rollback() // does nothing after a commit
	var id int64
	if mark != nil {
		if id, err = mark.insert(ctx, tx); err != nil {
			return 0, err
		}
	}
	if err := insertProbes(ctx, tx, b); err != nil {
		return 0, err
	}
	if err := insertTail(ctx, tx, b.rows); err != nil {
		return 0, err
	}
	if err := tx.Commit(); err != nil {
		return 0, err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	j.done(b)
	return id, nil
}

func insertProbes(ctx context.Context, tx *sql.Tx, b batch) error {
	for i, name := range b.names {
		if _, err := tx.ExecContext(ctx, "INSERT INTO probes (id, name) VALUES (?, ?)", b.first+i, name); err != nil {
			return err
		}
	}
	return nil
}

func insertTail(ctx context.Context, tx *sql.Tx, rows []sample) error {
	if len(rows) == 0 {
		return nil
	}
	insert, err := tx.PrepareContext(ctx, `INSERT INTO tail (probe, at_ms, temp, humidity,
		temp_quality, temp_fault, humidity_quality, humidity_fault, crc) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	for _, s := range rows {
		tq, tf := s.state.temp()
		hq, hf := s.state.humidity()
		if _, err := insert.ExecContext(ctx, s.probe, s.at, s.temp, s.humidity,
			uint8(tq), uint8(tf), uint8(hq), uint8(hf), s.sum()); err != nil {
			return err
		}
	}
	return nil
}
