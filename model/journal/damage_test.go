package journal

import (
	"context"
	"errors"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// spoil changes one byte inside the block of a probe and hour.
func spoil(t *testing.T, j *Journal, probe string, at time.Time) place {
	p := placeOf(hourOf(at.UnixMilli()), j.ids[probe])
	var data []byte
	require.NoError(t, j.write.QueryRow("SELECT data FROM blocks WHERE id = ?", int64(p)).Scan(&data))
	data[len(data)/2] ^= 0x40
	_, err := j.write.Exec("UPDATE blocks SET data = ? WHERE id = ?", data, int64(p))
	require.NoError(t, err)
	return p
}

// intact are the readings that are not of a probe and hour.
func intact(all []sensors.Reading, probe string, hour time.Time) []sensors.Reading {
	var out []sensors.Reading
	for _, r := range all {
		if r.Probe != probe || !r.At.Truncate(time.Hour).Equal(hour) {
			out = append(out, r)
		}
	}
	return out
}

func sealed(t *testing.T) (*Journal, []sensors.Reading) {
	j := opened(t, newPath(t), Options{})
	all := shop(0, 6000, 2) // eight hours and twenty minutes
	appendAll(t, j, all)
	require.NoError(t, j.Flush(context.Background()))
	return j, all
}

func TestDamagedBlockIsReportedAndTheRestIsRead(t *testing.T) {
	ctx := context.Background()
	j, all := sealed(t)
	hour := noon.Add(3 * time.Hour)
	spoil(t, j, "probe 1", hour)

	got, err := collect(j, time.Time{}, noon.AddDate(1, 0, 0))
	require.ErrorIs(t, err, ErrDamaged)
	require.ErrorContains(t, err, "probe probe 1, hour from 2026-01-12T15:00:00Z")
	var damage *DamageError
	require.True(t, errors.As(err, &damage))
	require.Equal(t, []Damage{{Probe: "probe 1", Hour: hour, Cause: errChecksum}}, damage.Blocks)
	require.Equal(t, intact(all, "probe 1", hour), got)

	trace, err := j.Trace(ctx, "probe 1", hour.Add(-time.Hour), hour.Add(2*time.Hour))
	require.True(t, errors.As(err, &damage))
	require.Len(t, trace, 720)
	_, err = j.Trace(ctx, "probe 0", hour.Add(-time.Hour), hour.Add(2*time.Hour))
	require.NoError(t, err, "the other probe is whole")
}

func TestDamageAtTheEdges(t *testing.T) {
	ctx := context.Background()
	j, all := sealed(t)
	spoil(t, j, "probe 0", noon)
	spoil(t, j, "probe 1", noon)
	first, last, err := j.Span(ctx)
	require.ErrorIs(t, err, ErrDamaged)
	require.Equal(t, []time.Time{noon.Add(time.Hour), all[len(all)-1].At}, []time.Time{first, last})

	next := sensors.Reading{Probe: "probe 2", At: noon.Add(10 * time.Hour), Temp: sensors.GoodMeasure(18)}
	require.NoError(t, j.AppendReading(next))
	require.NoError(t, j.Flush(ctx)) // packs the last hour of the others
	spoil(t, j, "probe 0", noon.Add(8*time.Hour))
	at, err := j.LastOf(ctx, "probe 0")
	require.ErrorIs(t, err, ErrDamaged)
	require.Equal(t, noon.Add(8*time.Hour-10*time.Second), at)
	at, err = j.LastOf(ctx, "probe 1")
	require.NoError(t, err, "the last of this one is whole")
	require.Equal(t, all[len(all)-1].At, at)
}

// A late reading of a damaged hour must not destroy the rest of its block.
func TestLateReadingLeavesADamagedBlockAlone(t *testing.T) {
	ctx := context.Background()
	j, all := sealed(t)
	hour := noon.Add(3 * time.Hour)
	p := spoil(t, j, "probe 1", hour)
	var before, after []byte
	require.NoError(t, j.write.QueryRow("SELECT data FROM blocks WHERE id = ?", int64(p)).Scan(&before))

	late := sensors.Reading{Probe: "probe 1", At: hour.Add(1234 * time.Millisecond), Temp: sensors.GoodMeasure(17)}
	next := sensors.Reading{Probe: "probe 1", At: noon.Add(10 * time.Hour), Temp: sensors.GoodMeasure(18)}
	appendAll(t, j, []sensors.Reading{late, next}) // the hour turns
	require.NoError(t, j.Flush(ctx))
	require.NoError(t, j.write.QueryRow("SELECT data FROM blocks WHERE id = ?", int64(p)).Scan(&after))
	require.Equal(t, before, after)

	path := j.path
	require.NoError(t, j.Close(ctx))
	again := opened(t, path, Options{})
	got, err := collect(again, time.Time{}, noon.AddDate(1, 0, 0))
	require.ErrorIs(t, err, ErrDamaged)
	require.Len(t, got, len(all)-360+2)
	require.Contains(t, got, late)
}

// Whatever byte of the file is changed: no panic, and no reading comes back changed.
func TestFlippedBytesNeverPassForReadings(t *testing.T) {
	ctx := context.Background()
	j, all := sealed(t)
	path := j.path
	require.NoError(t, j.Close(ctx))
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	packed := map[sensors.Reading]bool{}
	for _, r := range all {
		packed[r] = true
	}
	end := noon.AddDate(1, 0, 0)
	broken := 0
	for at := 0; at < len(whole); at += 1361 { // three places a page, moving through the pages
		data := append([]byte(nil), whole...)
		data[at] ^= 0x55
		if !readBroken(t, data, end, packed) {
			broken++
		}
	}
	require.NotZero(t, broken)
}

// readBroken reads what can be read and reports whether all seemed well.
func readBroken(t *testing.T, data []byte, end time.Time, packed map[sensors.Reading]bool) bool {
	ctx := context.Background()
	j, err := Open(ctx, image(t, data, nil), Options{CheckBudget: -1})
	if err != nil {
		return false
	}
	defer j.Close(ctx)
	err = j.Readings(ctx, time.Time{}, end, func(r sensors.Reading) error {
		r.Probe = cleanName(r.Probe, packed, r)
		require.True(t, packed[r], "%v was never recorded", r)
		return nil
	})
	_, markErr := j.Marks(ctx)
	return err == nil && markErr == nil
}

// cleanName undoes a change of the probe's name, which is not in the blocks.
func cleanName(name string, packed map[sensors.Reading]bool, r sensors.Reading) string {
	for _, known := range []string{"probe 0", "probe 1"} {
		r.Probe = known
		if packed[r] {
			return known
		}
	}
	return name
}

func TestDamagedStructureIsFoundAtStart(t *testing.T) {
	ctx := context.Background()
	j, _ := sealed(t)
	path := j.path
	require.NoError(t, j.Close(ctx))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for at := 2 * pageSize; at < len(data); at += pageSize {
		copy(data[at:], "nonsense where a page begins")
	}
	_, err = Open(ctx, image(t, data, nil), Options{})
	require.ErrorIs(t, err, ErrDamaged)
	require.ErrorContains(t, err, "cut.journal")
}
