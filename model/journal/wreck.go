package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// wreck is a file of which as much is read as can be. It is never written to.
type wreck struct {
	path  string
	db    *sql.DB
	names []string // of probes, by id
	loss  loss
}

// loss is what could not be read.
type loss struct {
	hours   []Damage
	marks   int
	changed []checkedMark // marks that are not as they were written
	more    bool          // beyond that something may be missing of which nobody knows
}

// openWreck opens a file as far as it is a journal at all, of whatever version.
func openWreck(ctx context.Context, path string) (*wreck, error) {
	if !exists(path) {
		return nil, missing(path)
	}
	w, err := openWreckWith(ctx, path, readQuery)
	if err == nil || errors.Is(err, ErrNotJournal) || errors.Is(err, ErrDamaged) || ctx.Err() != nil {
		return w, err
	}
	// The folder cannot be written, as SQLite must to read a write-ahead log. What is only in the log is missing.
	if w, err = openWreckWith(ctx, path, readQuery+"&immutable=1"); err != nil {
		return nil, err
	}
	info, err := os.Stat(path + "-wal")
	w.loss.more = err == nil && info.Size() > 0
	return w, nil
}

func openWreckWith(ctx context.Context, path, query string) (*wreck, error) {
	db, err := connect(path, query, 1)
	if err != nil {
		return nil, err
	}
	w := &wreck{path: path, db: db}
	var id int
	if err = db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		err = explain("read", path, err)
	} else if id != applicationID {
		err = fmt.Errorf("read journal %s: %w", path, ErrNotJournal)
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return w, nil
}

func (w *wreck) close() error { return w.db.Close() }

// patience: after so many keys in a row that cannot be read nothing more is expected behind them. At one
// probe that is five years of hours.
const (
	patienceBlocks = 50_000
	patienceRows   = 10_000
)

// gap is a range of keys that could not be read.
type gap struct {
	after, before int64 // the keys read last and next
	toEnd         bool  // nothing could be read behind it; before means nothing
}

// walk hands over rows by rising key, and goes on behind those that cannot be read. scan returns the key
// of a row; next the key to try after one that failed.
func (w *wreck) walk(ctx context.Context, from int64, patience int, next func(int64) int64, query string, scan func(*sql.Rows) (int64, error)) ([]gap, error) {
	var gaps []gap
	last, at := from-1, from
	for failed := 0; failed < patience; failed++ {
		before := last
		err := w.rows(ctx, query, at, func(rows *sql.Rows) error {
			key, err := scan(rows)
			if err != nil {
				return err
			}
			if failed > 0 {
				gaps = append(gaps, gap{after: before, before: key})
			}
			last, failed = key, 0
			return nil
		})
		switch {
		case err == nil && failed > 0: // the query ran to its end and found no row
			return append(gaps, gap{after: last, toEnd: true}), nil
		case err == nil:
			return gaps, nil
		case ctx.Err() != nil || errors.Is(kindOf(err), ErrBusy) || errors.As(err, new(*takeError)):
			return gaps, err
		}
		at = next(max(last, at))
	}
	return append(gaps, gap{after: last, toEnd: true}), nil
}

// takeError is of whoever takes what was read, not of the file.
type takeError struct{ error }

func (e *takeError) Unwrap() error { return e.error }

func (w *wreck) rows(ctx context.Context, query string, at int64, each func(*sql.Rows) error) error {
	rows, err := w.db.QueryContext(ctx, query, at)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := each(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func plusOne(key int64) int64 { return key + 1 }

// readNames reads the names of the probes, from their index where the table cannot be read; one that is lost
// there, too, is replaced.
func (w *wreck) readNames(ctx context.Context) error {
	take := func(rows *sql.Rows) (id int64, err error) {
		var name string
		if err := rows.Scan(&id, &name); err != nil {
			return 0, err
		}
		w.nameOf(uint16(id))
		w.names[id] = name
		return id, nil
	}
	gaps, err := w.walk(ctx, 1, 100, plusOne, "SELECT id, name FROM probes WHERE id >= ? ORDER BY id", take)
	if err != nil || len(gaps) == 0 {
		return err
	}
	w.loss.more = true // whether the index has all of them, nobody knows
	_ = w.rows(ctx, "SELECT id, name FROM probes INDEXED BY sqlite_autoindex_probes_1 WHERE ? = 0", 0, func(rows *sql.Rows) error {
		_, err := take(rows)
		return err
	})
	return ctx.Err()
}

// nameOf is the name of a probe, also where it is lost.
func (w *wreck) nameOf(id uint16) string {
	for len(w.names) <= int(id) {
		w.names = append(w.names, "")
	}
	if w.names[id] == "" && id > 0 {
		return fmt.Sprintf("probe %d whose name is lost", id)
	}
	return w.names[id]
}

// columns lists what to select of a table: a column that the file's version did not have is replaced.
func (w *wreck) columns(ctx context.Context, table string, want []string, instead func(string) string) ([]string, error) {
	have := map[string]bool{}
	err := w.rows(ctx, "SELECT name FROM pragma_table_info('"+table+"') WHERE cid >= ?", 0, func(rows *sql.Rows) error {
		var name string
		err := rows.Scan(&name)
		have[name] = true
		return err
	})
	var list []string
	for _, c := range want {
		if !have[c] {
			c = instead(c)
		}
		list = append(list, c)
	}
	return list, err
}

// marks hands over the marks by number.
func (w *wreck) marks(ctx context.Context, take func(model.Mark) error) error {
	list, err := w.columns(ctx, "marks", append(markColumns(), "crc"), func(c string) string {
		switch {
		case c == "crc":
			return "-1" // unchecked
		case strings.HasSuffix(c, "_mm") || strings.HasSuffix(c, "_um"):
			return "0"
		}
		return "''"
	})
	if err != nil {
		w.loss.more = true
		return ctx.Err() // there are none to be read
	}
	gaps, err := w.walk(ctx, 1, patienceRows, plusOne, "SELECT "+markList(list)+" FROM marks WHERE id >= ? ORDER BY id", func(rows *sql.Rows) (int64, error) {
		c, err := checkMark(rows)
		if err != nil {
			return 0, err
		}
		if !c.whole {
			w.loss.changed = append(w.loss.changed, c)
			return c.id, nil
		}
		if err := take(c.mark); err != nil {
			return 0, &takeError{err}
		}
		return c.id, nil
	})
	for _, g := range gaps {
		if g.toEnd {
			w.loss.more = true
			continue
		}
		w.loss.marks += int(g.before - g.after - 1)
	}
	return err
}

// boots and shifts are few, and no reading is lost with them.
func (w *wreck) boots(ctx context.Context) ([]sensors.Boot, error) {
	return (&Journal{path: w.path, read: w.db}).Boots(ctx)
}

func (w *wreck) shifts(ctx context.Context) ([]sensors.Shift, error) {
	return (&Journal{path: w.path, read: w.db}).Shifts(ctx)
}

// blocks hands over the blocks that are whole, from an hour on.
func (w *wreck) blocks(ctx context.Context, hour int64, take func(place, []byte, []sample) error) error {
	var u unpacker
	var samples []sample
	next := func(failed int64) int64 {
		p := place(failed)
		if int(p.probe()) < len(w.names) {
			return failed + 1
		}
		return int64(placeOf(p.hour()+1, 0))
	}
	gaps, err := w.walk(ctx, max(int64(placeOf(hour, 0)), 1), patienceBlocks, next, "SELECT id, data FROM blocks WHERE id >= ? ORDER BY id", func(rows *sql.Rows) (int64, error) {
		var id int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &data); err != nil {
			return 0, err
		}
		var damage error
		p := place(id)
		if samples, damage = u.unpack(p, data, samples[:0]); damage != nil {
			w.loss.hours = append(w.loss.hours, Damage{Probe: w.nameOf(p.probe()), Hour: p.start(), Cause: damage})
			return id, nil
		}
		if err := take(p, data, samples); err != nil {
			return 0, &takeError{err}
		}
		return id, nil
	})
	for _, g := range gaps {
		w.missed(g)
	}
	return err
}

// missed notes which hours a gap between blocks may have held.
func (w *wreck) missed(g gap) {
	if g.toEnd {
		w.loss.more = true
		return
	}
	for p := place(g.after + 1); int64(p) < g.before; p++ {
		if p.probe() == 0 {
			continue
		}
		if int(p.probe()) >= len(w.names) {
			p = placeOf(p.hour()+1, 0)
			continue
		}
		if p.hour() < hourOf(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli()) {
			w.loss.more = true // nothing was read before it: nobody knows when the record began
			return
		}
		w.loss.hours = append(w.loss.hours, Damage{Probe: w.nameOf(p.probe()), Hour: p.start(), Cause: ErrDamaged})
	}
}

// tail hands over the readings that were not packed yet.
func (w *wreck) tail(ctx context.Context, from int64, take func(sample)) error {
	list, err := w.columns(ctx, "tail", []string{"id", "probe", "at_ms", "temp", "humidity",
		"temp_quality", "temp_fault", "humidity_quality", "humidity_fault", "crc"}, func(string) string { return "-1" })
	if err != nil {
		w.loss.more = true
		return ctx.Err() // there are none to be read
	}
	gaps, err := w.walk(ctx, 1, patienceRows, plusOne, "SELECT "+strings.Join(list, ", ")+" FROM tail WHERE id >= ? ORDER BY id", func(rows *sql.Rows) (int64, error) {
		var id, crc int64
		var s sample
		var tq, tf, hq, hf state
		if err := rows.Scan(&id, &s.probe, &s.at, &s.temp, &s.humidity, &tq, &tf, &hq, &hf, &crc); err != nil {
			return 0, err
		}
		s.state = tq | tf<<8 | hq<<16 | hf<<24
		switch {
		case crc != unchecked && crc != int64(s.sum()):
			w.loss.more = true
		case s.at >= from:
			take(s)
		}
		return id, nil
	})
	w.loss.more = w.loss.more || len(gaps) > 0
	return err
}
