package journal

import (
	"context"
	"database/sql"
	"slices"
)

// everyProbe asks a view for all probes.
const everyProbe = ""

// view is one consistent picture of the readings of an interval.
type view struct {
	path   string
	lo, hi int64 // ms
	tx     *sql.Tx
	names  []string // by probe id
	probe  uint16   // the one asked for; 0 for every probe, and for one never seen
	head   head     // not packed yet, within the interval
	damage *DamageError
	blocks unpacker
}

// look takes a view of an interval in ms. The caller closes it soon: while it is open, the write-ahead
// log grows.
func (j *Journal) look(ctx context.Context, probe string, lo, hi int64) (*view, error) {
	tx, err := j.read.BeginTx(ctx, nil)
	if err != nil {
		return nil, explain("read", j.path, err)
	}
	v := &view{path: j.path, lo: lo, hi: hi, tx: tx, damage: &DamageError{Path: j.path}}
	if j.write != nil {
		err = j.pin(ctx, v, probe)
	} else {
		err = v.pin(ctx, probe)
	}
	if err != nil {
		v.close()
		return nil, explain("read", j.path, err)
	}
	return v, nil
}

func (v *view) close() { v.tx.Rollback() } // it only read

// pin fixes the picture of the file and of its mirror at one instant: no seal comes between.
func (j *Journal) pin(ctx context.Context, v *view, probe string) error {
	j.mu.RLock()
	defer j.mu.RUnlock()
	var pages int
	if err := v.tx.QueryRowContext(ctx, "PRAGMA page_count").Scan(&pages); err != nil {
		return err
	}
	v.names, v.probe = j.names, j.ids[probe]
	v.head = make(head, len(j.head))
	for id, of := range j.head {
		if probe == everyProbe || id == int(v.probe) {
			v.head[id] = slices.Clone(within(of, v.lo, v.hi))
		}
	}
	return nil
}

// pin takes the place of the mirror from the tail in the file, for a journal opened for reading alone.
func (v *view) pin(ctx context.Context, probe string) (err error) {
	if v.names, err = probeNames(ctx, v.tx); err != nil {
		return err
	}
	v.probe = uint16(max(0, slices.Index(v.names, probe)))
	tail, _, err := tailRows(ctx, v.tx, v.lo, v.hi)
	if err != nil {
		return err
	}
	for _, s := range tail {
		if probe == everyProbe || s.probe == v.probe {
			v.head.add(s)
		}
	}
	return nil
}

// each hands over blocks as a query gives their id and data, until it wants no more.
func (v *view) each(ctx context.Context, use func(place, []byte) (more bool), query string, args ...any) error {
	rows, err := v.tx.QueryContext(ctx, query, args...)
	if err != nil {
		return explain("read", v.path, err)
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &data); err != nil {
			return explain("read", v.path, err)
		}
		if !use(place(id), data) {
			return nil
		}
	}
	if err := rows.Err(); err != nil {
		return explain("read", v.path, err)
	}
	return nil
}

// open appends the samples of a block to dst; none, if it is damaged.
func (v *view) open(p place, data []byte, dst []sample) []sample {
	dst, err := v.blocks.unpack(p, data, dst)
	if err != nil {
		v.damage.Blocks = append(v.damage.Blocks, Damage{Probe: v.name(p.probe()), Hour: p.start(), Cause: err})
	}
	return dst
}

func (v *view) name(probe uint16) string {
	if int(probe) < len(v.names) {
		return v.names[probe]
	}
	return "?" // its name is lost, its readings are not
}

func probeNames(ctx context.Context, tx *sql.Tx) ([]string, error) {
	rows, err := tx.QueryContext(ctx, "SELECT id, name FROM probes ORDER BY id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	names := []string{""}
	for rows.Next() {
		var id int
		var name string
		if err := rows.Scan(&id, &name); err != nil {
			return nil, err
		}
		for len(names) <= id {
			names = append(names, "")
		}
		names[id] = name
	}
	return names, rows.Err()
}

// tailRows returns the readings that are not packed yet, and how many of them are damaged and left out.
func tailRows(ctx context.Context, tx *sql.Tx, lo, hi int64) (tail []sample, damaged int, err error) {
	rows, err := tx.QueryContext(ctx, `SELECT probe, at_ms, temp, humidity,
		temp_quality | (temp_fault << 8) | (humidity_quality << 16) | (humidity_fault << 24), crc
		FROM tail WHERE at_ms >= ? AND at_ms < ? ORDER BY id`, lo, hi)
	if err != nil {
		return nil, 0, err
	}
	defer rows.Close()
	for rows.Next() {
		var s sample
		var crc int64
		if err := rows.Scan(&s.probe, &s.at, &s.temp, &s.humidity, &s.state, &crc); err != nil {
			return nil, 0, err
		}
		if crc != unchecked && crc != int64(s.sum()) {
			damaged++
			continue
		}
		tail = append(tail, s)
	}
	return tail, damaged, rows.Err()
}
