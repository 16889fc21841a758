package journal

import (
	"context"
	"fmt"
	"time"

	"pourward/sensors"
)

// Probes returns the name of every probe that ever had a reading on record, in the order in which they
// came.
func (j *Journal) Probes(ctx context.Context) ([]string, error) {
	v, err := j.look(ctx, everyProbe, 0, 0)
	if err != nil {
		return nil, err
	}
	defer v.close()
	var names []string
	for _, name := range v.names {
		if name != "" {
			names = append(names, name)
		}
	}
	return names, nil
}

// Shifts returns every time at which something was dated anew, in the order in which that was done.
func (j *Journal) Shifts(ctx context.Context) ([]sensors.Shift, error) {
	rows, err := j.read.QueryContext(ctx, "SELECT boot, from_ms, by_ms FROM shifts ORDER BY id")
	if err != nil {
		return nil, explain("read the shifts of", j.path, err)
	}
	defer rows.Close()
	var shifts []sensors.Shift
	for rows.Next() {
		var s sensors.Shift
		var from, by int64
		if err := rows.Scan(&s.Boot, &from, &by); err != nil {
			return nil, explain("read the shifts of", j.path, err)
		}
		s.From, s.By = time.UnixMilli(from).UTC(), time.Duration(by)*time.Millisecond
		shifts = append(shifts, s)
	}
	if err := rows.Err(); err != nil {
		return nil, explain("read the shifts of", j.path, err)
	}
	return shifts, nil
}

// empty reports whether neither a reading nor a mark is on record.
func (j *Journal) empty(ctx context.Context) (bool, error) {
	var held bool
	err := j.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM tail) OR EXISTS (SELECT 1 FROM blocks)
		OR EXISTS (SELECT 1 FROM marks)`).Scan(&held)
	if err != nil {
		return false, explain("read", j.path, err)
	}
	return !held, nil
}

// insertShift records a shift that was made elsewhere.
func (j *Journal) insertShift(ctx context.Context, s sensors.Shift) error {
	_, err := j.write.ExecContext(ctx, "INSERT INTO shifts (boot, from_ms, by_ms) VALUES (?, ?, ?)",
		s.Boot, s.From.UnixMilli(), s.By.Milliseconds())
	if err != nil {
		return explain("write to", j.path, fmt.Errorf("a shift: %w", err))
	}
	return nil
}
