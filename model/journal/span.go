package journal

import (
	"context"
	"time"
)

// Span returns the instants of the first and the last reading in the record, zero times if there is
// none. With a [DamageError] they are those of what can still be read.
func (j *Journal) Span(ctx context.Context) (first, last time.Time, err error) {
	v, err := j.look(ctx, everyProbe, 0, endMS)
	if err != nil {
		return first, last, err
	}
	defer v.close()
	lo, hi := int64(endMS), int64(-1)
	for _, of := range v.head {
		lo, hi = widen(lo, hi, of)
	}
	for _, query := range []string{
		"SELECT id, data FROM blocks ORDER BY id",
		"SELECT id, data FROM blocks ORDER BY id DESC",
	} {
		of, err := v.outermost(ctx, query)
		if err != nil {
			return first, last, err
		}
		for _, s := range of {
			lo, hi = min(lo, s.at), max(hi, s.at)
		}
	}
	if hi < 0 {
		return first, last, v.damage.orNil()
	}
	return time.UnixMilli(lo).UTC(), time.UnixMilli(hi).UTC(), v.damage.orNil()
}

// widen takes samples, rising in time, into an interval.
func widen(lo, hi int64, of []sample) (int64, int64) {
	if len(of) == 0 {
		return lo, hi
	}
	return min(lo, of[0].at), max(hi, of[len(of)-1].at)
}

// outermost returns the samples of the first hour that a query comes upon and that can be read.
func (v *view) outermost(ctx context.Context, query string, args ...any) ([]sample, error) {
	var of []sample
	err := v.each(ctx, func(p place, data []byte) bool {
		if len(of) > 0 && of[0].place().hour() != p.hour() {
			return false
		}
		of = v.open(p, data, of)
		return true
	}, query, args...)
	return of, err
}

// LastOf returns the instant of a probe's last reading, the zero time if there is none. With a
// [DamageError] it is the last that can still be read.
func (j *Journal) LastOf(ctx context.Context, probe string) (time.Time, error) {
	v, err := j.look(ctx, probe, 0, endMS)
	if err != nil {
		return time.Time{}, err
	}
	defer v.close()
	if v.probe == 0 {
		return time.Time{}, nil
	}
	of, err := v.outermost(ctx, "SELECT id, data FROM blocks WHERE probe = ? ORDER BY id DESC", v.probe)
	if err != nil {
		return time.Time{}, err
	}
	_, last := widen(0, -1, of)
	if int(v.probe) < len(v.head) {
		_, last = widen(0, last, v.head[v.probe])
	}
	if last < 0 {
		return time.Time{}, v.damage.orNil()
	}
	return time.UnixMilli(last).UTC(), v.damage.orNil()
}

// hours returns the first and the last hour in which the view may have blocks.
func (v *view) hours(ctx context.Context) (first, last int64, err error) {
	err = v.tx.QueryRowContext(ctx, `SELECT coalesce((SELECT hour FROM blocks ORDER BY id LIMIT 1), 0),
		coalesce((SELECT hour FROM blocks ORDER BY id DESC LIMIT 1), -1)`).Scan(&first, &last)
	if err != nil {
		return 0, 0, explain("read", v.path, err)
	}
	return max(first, hourOf(v.lo)), min(last, hourOf(v.hi-1)), nil
}
