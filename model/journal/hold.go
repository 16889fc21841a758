package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"pourward/sensors"
)

// heldBack is how far back a journal in memory knows the record: the model looks back four weeks.
const heldBack = 35 * 24 * time.Hour

// inMemory makes an empty journal that lies in memory, in the place of the one at path.
func inMemory(ctx context.Context, path string, opts Options) (*Journal, error) {
	steps, err := migrations(embedded())
	if err != nil {
		return nil, err
	}
	// One connection, for each would have a database of its own.
	db, err := sql.Open("sqlite", "file::memory:?_txlock=immediate&_dqs=0&_error_rc=1&_pragma=foreign_keys(ON)")
	if err != nil {
		return nil, explain("stand in for", path, err)
	}
	db.SetMaxOpenConns(1)
	j := &Journal{path: path, opts: opts.withDefaults(), ids: map[string]uint16{}, names: []string{""}, read: db, write: db}
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, errors.Join(explain("stand in for", path, err), db.Close())
	}
	for _, m := range steps {
		err = errors.Join(err, m.apply(ctx, conn))
	}
	if err = errors.Join(err, conn.Close()); err != nil {
		return nil, errors.Join(explain("stand in for", path, err), db.Close())
	}
	return j, nil
}

// hold makes a journal in memory that knows what can be read of the one at path and of its rescues. It
// takes readings, which wait, and no marks; why says the reason.
func hold(ctx context.Context, path string, opts Options, why error) (*Journal, salvage, error) {
	full, err := resolve(path)
	if err != nil { // the folder is not there
		full = path
	}
	j, err := inMemory(ctx, full, opts)
	if err != nil {
		return nil, salvage{}, err
	}
	files := append([]string{full}, Rescues(full)...)
	s, err := j.salvage(ctx, files, hourOf(max(lastIn(ctx, files)-heldBack.Milliseconds(), 0)))
	if err == nil {
		j.held = why
		return j, s, nil
	}
	return nil, s, errors.Join(err, j.release())
}

// lastIn is the newest instant that some files tell of, ms; 0 where none does.
func lastIn(ctx context.Context, files []string) (last int64) {
	for _, path := range files {
		w, err := openWreck(ctx, path)
		if err != nil {
			continue
		}
		for _, query := range []string{"SELECT coalesce(max(at_ms), 0) FROM tail", "SELECT coalesce((SELECT hour FROM blocks ORDER BY id DESC LIMIT 1), 0) * 3600000"} {
			var at int64
			if w.db.QueryRowContext(ctx, query).Scan(&at) == nil {
				last = max(last, at)
			}
		}
		_ = w.close() // it was only read
	}
	return last
}

// notWritten is the error of a journal that is kept in memory.
func (j *Journal) notWritten() error {
	return fmt.Errorf("%w; %d readings wait in memory", j.held, j.Waiting())
}

// waitingReadings are those that are in no file.
func (j *Journal) waitingReadings() []sensors.Reading {
	j.mu.RLock()
	defer j.mu.RUnlock()
	out := make([]sensors.Reading, 0, len(j.waiting))
	for _, s := range j.waiting {
		out = append(out, s.reading(j.names[s.probe]))
	}
	return out
}

// moveWaiting dates anew the readings that wait, from an instant on.
func (j *Journal) moveWaiting(from, by int64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for i := range j.waiting {
		if s := j.waiting[i]; s.at >= from {
			j.head.remove(s)
		}
	}
	for i := range j.waiting {
		if s := &j.waiting[i]; s.at >= from {
			s.at += by
			j.head.add(*s)
		}
	}
}
