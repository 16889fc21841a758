package journal

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/journal/faulty"
	"pourward/sensors"
)

// trouble is how a disk fails: from the n-th operation of its kinds on, once or until it is mended.
type trouble struct {
	kinds []faulty.Kind
	fault faulty.Fault
	n     int
	stays bool
}

// begin makes a disk fail, and returns whether it did so far.
func (x trouble) begin(d *faulty.Disk) (met *bool) {
	n, met := 0, new(bool)
	d.Fail(func(op faulty.Op) faulty.Fault {
		if !slices.Contains(x.kinds, op.Kind) {
			return faulty.None
		}
		n++
		if n == x.n || x.stays && n > x.n {
			*met = true
			return x.fault
		}
		return faulty.None
	})
	return met
}

// troubled is a shop whose disk fails for a while: readings and marks of two hours and a half.
type troubled struct {
	readings []sensors.Reading
	marks    []model.Mark // confirmed ones
	refused  int
	liar     bool // what is refused counts as confirmed; this must be found out
}

// run plays the hours. From the middle on the disk is well again.
func (s *troubled) run(ctx context.Context, j *Journal, disk *faulty.Disk) error {
	const rounds, every = 30, 5 * killGroup // five minutes
	for round := range rounds {
		if round == rounds/2 {
			disk.Fail(nil)
		}
		next := shop(len(s.readings), every, killProbes)
		for _, r := range next {
			if err := j.AppendReading(r); err != nil {
				return fmt.Errorf("a reading is not taken: %w", err)
			}
		}
		s.readings = append(s.readings, next...)
		err := j.Flush(ctx)
		if round%4 == 3 {
			m, markErr := j.AppendMark(ctx, model.Mark{Kind: model.Poured, Mold: "frieze", At: noon, Entered: noon, Note: fmt.Sprint(round)})
			if markErr == nil || s.liar {
				s.marks = append(s.marks, m)
			}
			err = errors.Join(err, markErr)
		}
		if err != nil {
			s.refused++
			if round >= rounds/2 {
				return fmt.Errorf("it has not recovered: %w", err)
			}
		}
	}
	return nil
}

// judge reads back what is there: every reading, and every confirmed mark once.
func (s *troubled) judge(j *Journal) error {
	got, err := collect(j, noon, noon.AddDate(1, 0, 0))
	if err != nil {
		return err
	}
	if !slices.Equal(got, s.readings) {
		return fmt.Errorf("%d readings were taken, %d are there", len(s.readings), len(got))
	}
	marks, err := j.Marks(context.Background())
	if err != nil {
		return err
	}
	if !slices.EqualFunc(marks, s.marks, sameMark) {
		return fmt.Errorf("confirmed were %v, there are %v", s.marks, marks)
	}
	return sound(j)
}

// try plays one trouble. It reports whether it was met.
func (s *troubled) try(t *testing.T, x trouble) (met bool, err error) {
	ctx := context.Background()
	dir, disk := faultyDisk(t)
	l, err := layer()
	require.NoError(t, err)
	defer l.Remove(disk)
	defer os.RemoveAll(dir)
	disk.Keep()
	j, err := Open(ctx, filepath.Join(dir, nightFile), Options{})
	require.NoError(t, err)
	pragma(t, j, "PRAGMA wal_autocheckpoint=20")
	hit := x.begin(disk)
	err = s.run(ctx, j, disk)
	disk.Fail(nil)
	if err == nil {
		err = s.judge(j)
	}
	cut := faulty.NewPlatter(nil) // the power is cut in the end: what failed once must be safe by now
	for _, op := range disk.Log() {
		cut.Do(op)
	}
	if err := errors.Join(err, j.Close(ctx)); err != nil {
		return *hit, err
	}
	if err := s.reopened(dir); err != nil {
		return *hit, err
	}
	after := dir + "-cut"
	defer os.RemoveAll(after)
	if err := laid(after, cut.Left(faulty.Gone, nil)); err != nil {
		return *hit, err
	}
	return *hit, s.reopened(after)
}

func sameMark(a, b model.Mark) bool { return reflect.DeepEqual(a, b) }

// reopened judges the journal in a folder.
func (s *troubled) reopened(dir string) error {
	ctx := context.Background()
	j, err := Open(ctx, filepath.Join(dir, nightFile), Options{})
	if err != nil {
		return err
	}
	return errors.Join(s.judge(j), j.Close(ctx))
}

// Any write, sync, read or truncation fails, once or until the disk is mended. No reading is lost, no mark
// that was refused is there, every one that was confirmed is, and the journal recovers by itself.
func TestEveryFailingOperationIsSurvived(t *testing.T) {
	random := drawn(t)
	writing := []faulty.Kind{faulty.Write}
	for _, kind := range []struct {
		name string
		trouble
		among int // about how many such operations there are while the disk may fail
	}{
		{"device fails in a write", trouble{kinds: writing, fault: faulty.IOError}, 220},
		{"disk is full", trouble{kinds: writing, fault: faulty.NoSpace}, 220},
		{"disk fills in the middle of a write", trouble{kinds: writing, fault: faulty.Short}, 220},
		{"disk is read-only", trouble{kinds: []faulty.Kind{faulty.Write, faulty.Truncate, faulty.Sync}, fault: faulty.ReadOnly}, 260},
		{"device fails in a sync", trouble{kinds: []faulty.Kind{faulty.Sync}, fault: faulty.IOError}, 35},
		{"device fails in a read", trouble{kinds: []faulty.Kind{faulty.Read}, fault: faulty.IOError}, 12},
		{"device fails in a truncation", trouble{kinds: []faulty.Kind{faulty.Truncate}, fault: faulty.IOError}, 1},
	} {
		t.Run(kind.name, func(t *testing.T) {
			tried, met, refused := 0, 0, 0
			for n := 1; n <= kind.among; n++ {
				for _, stays := range []bool{false, true} {
					if !*cutsAll && n > 1 && random.IntN(kind.among*thinned) > 40 { // the first is always met
						continue
					}
					x := kind.trouble
					x.n, x.stays = n, stays
					var s troubled
					hit, err := s.try(t, x)
					require.NoError(t, err, "operation %d, stays %t", n, stays)
					tried++
					if hit {
						met++
					}
					refused += s.refused
				}
			}
			t.Logf("%d faults, %d met, %d times something was refused", tried, met, refused)
			require.Positive(t, met)
		})
	}
}

// What the faults must find out: marks that count as confirmed although they were refused.
func TestFaultsFindFalseConfirmations(t *testing.T) {
	s := troubled{liar: true}
	hit, err := s.try(t, trouble{kinds: []faulty.Kind{faulty.Write}, fault: faulty.NoSpace, n: 100, stays: true})
	require.True(t, hit)
	require.ErrorContains(t, err, "confirmed were")
}

// A mark that failed is no trouble that passes of itself: while nothing can be written, a flush says so, also
// where no reading waits.
func TestFlushOfNothingSaysThatTheLastWriteFailed(t *testing.T) {
	ctx := context.Background()
	dir, disk := faultyDisk(t)
	l, err := layer()
	require.NoError(t, err)
	defer l.Remove(disk)
	defer os.RemoveAll(dir)
	j, err := Open(ctx, filepath.Join(dir, nightFile), Options{})
	require.NoError(t, err)
	trouble{kinds: []faulty.Kind{faulty.Write}, fault: faulty.NoSpace, n: 1, stays: true}.begin(disk)
	require.NoError(t, j.Flush(ctx), "nothing has failed yet, and nothing waits")
	_, err = j.AppendMark(ctx, markOf(""))
	require.ErrorIs(t, err, ErrNoSpace)
	require.ErrorIs(t, j.Flush(ctx), ErrNoSpace)
	require.ErrorIs(t, j.Flush(ctx), ErrNoSpace)
	disk.Fail(nil)
	require.NoError(t, j.Flush(ctx))
	require.NoError(t, j.Close(ctx))
}
