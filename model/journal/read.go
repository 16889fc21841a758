package journal

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"pourward/sensors"
)

// batchBlocks is about how many blocks are read at a time: two days of a few probes, 2 MB unpacked.
const batchBlocks = 256

// usualPerHour is a guess at the samples of a block, one in ten seconds.
const usualPerHour = 360

// Readings hands over every reading of every probe from from until before to, in order of instant and,
// at one instant, of the probe's name. It ends early with the error of yield, if that returns one.
//
// Nothing is locked while yield runs, however long. Each reading recorded before the call is handed over
// exactly once; those recorded meanwhile may or may not be.
//
// A [DamageError] comes after all readings that are whole have been handed over.
func (j *Journal) Readings(ctx context.Context, from, to time.Time, yield func(sensors.Reading) error) error {
	damage := DamageError{Path: j.path}
	var series [][]sample
	for lo, hi := bound(from), bound(to); lo < hi; {
		end, err := j.batchEnd(ctx, lo, hi)
		if err != nil {
			return err
		}
		v, err := j.look(ctx, everyProbe, lo, end)
		if err != nil {
			return err
		}
		series, err = v.series(ctx, series)
		v.close()
		if err != nil {
			return err
		}
		damage.Blocks = append(damage.Blocks, v.damage.Blocks...)
		if err := v.inOrder(series, yield); err != nil {
			return err
		}
		lo = end
	}
	return damage.orNil()
}

// batchEnd returns the turn of the hour after about batchBlocks blocks from lo on, or hi.
func (j *Journal) batchEnd(ctx context.Context, lo, hi int64) (int64, error) {
	var hour int64
	err := j.read.QueryRowContext(ctx, "SELECT hour FROM blocks WHERE id >= ? ORDER BY id LIMIT 1 OFFSET ?",
		int64(placeOf(hourOf(lo), 0)), batchBlocks).Scan(&hour)
	if errors.Is(err, sql.ErrNoRows) {
		return hi, nil
	}
	if err != nil {
		return 0, explain("read", j.path, err)
	}
	return min(hi, max(hour, hourOf(lo)+1)*hourMS), nil
}

// series returns the samples of the view by probe, rising in time. It reuses the memory of old.
func (v *view) series(ctx context.Context, old [][]sample) ([][]sample, error) {
	all := old
	for i := range all {
		all[i] = all[i][:0]
	}
	err := v.each(ctx, func(p place, data []byte) bool {
		for int(p.probe()) >= len(all) {
			all = append(all, nil)
		}
		all[p.probe()] = v.open(p, data, all[p.probe()])
		return true
	}, "SELECT id, data FROM blocks WHERE id >= ? AND id < ? ORDER BY id",
		int64(placeOf(hourOf(v.lo), 0)), int64(placeOf(hourOf(v.hi-1)+1, 0)))
	if err != nil {
		return nil, err
	}
	for len(all) < len(v.head) {
		all = append(all, nil)
	}
	for i := range all {
		all[i] = within(all[i], v.lo, v.hi)
		if i < len(v.head) {
			all[i] = union(all[i], v.head[i])
		}
	}
	return all, nil
}

// Trace returns the readings of one probe from from until before to, in order of time; none for a probe
// never recorded. With a [DamageError] come all readings that are whole.
func (j *Journal) Trace(ctx context.Context, probe string, from, to time.Time) ([]sensors.Reading, error) {
	v, err := j.look(ctx, probe, bound(from), bound(to))
	if err != nil {
		return nil, err
	}
	defer v.close()
	samples, err := v.trace(ctx)
	if err != nil {
		return nil, err
	}
	readings := make([]sensors.Reading, len(samples))
	for i, s := range samples {
		readings[i] = s.reading(probe)
	}
	return readings, v.damage.orNil()
}

// trace returns the samples of the view's one probe.
func (v *view) trace(ctx context.Context) ([]sample, error) {
	if v.probe == 0 || v.lo >= v.hi {
		return nil, nil
	}
	first, last, err := v.hours(ctx)
	if err != nil {
		return nil, err
	}
	var of []sample
	if n := int(last - first + 1); n > 0 {
		of = make([]sample, 0, min(n, 32*24)*usualPerHour)
	}
	err = v.each(ctx, func(p place, data []byte) bool {
		of = v.open(p, data, of)
		return true
	}, `WITH RECURSIVE h (hour) AS (VALUES (?1) UNION ALL SELECT hour + 1 FROM h WHERE hour < ?2)
		SELECT id, data FROM h CROSS JOIN blocks ON id = (h.hour << 16) | ?3`, first, last, v.probe)
	if err != nil {
		return nil, err
	}
	of = within(of, v.lo, v.hi)
	if int(v.probe) < len(v.head) {
		of = union(of, v.head[v.probe])
	}
	return of, nil
}
