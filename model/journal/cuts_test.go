package journal

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"pourward/model/journal/faulty"
)

// cut is a power cut: before which thing is done to the disk, and what becomes of what was not synced.
type cut struct {
	op   int
	fate faulty.Fate
}

// cutsOf draws n power cuts of a log, or takes all there are. Half as many again are taken from while the log moves
// into the file, which is a small part of the night.
func cutsOf(log []faulty.Op, random *rand.Rand, n int) []cut {
	var all, moving []cut
	for i := range len(log) + 1 {
		for _, fate := range faulty.Fates() {
			all = append(all, cut{i, fate})
			if i > 0 && (log[i-1].File == nightFile || log[i-1].Kind == faulty.Truncate || log[i-1].Kind == faulty.Delete) {
				moving = append(moving, cut{i, fate})
			}
		}
	}
	if *cutsAll {
		return all
	}
	taken := map[cut]bool{}
	for len(taken) < n {
		taken[all[random.IntN(len(all))]] = true
		if len(taken)%2 == 0 {
			taken[moving[random.IntN(len(moving))]] = true
		}
	}
	return slices.SortedFunc(maps.Keys(taken), func(a, b cut) int { return cmp.Or(cmp.Compare(a.op, b.op), cmp.Compare(a.fate, b.fate)) })
}

// cutAll cuts the power again and again and judges each time what is left. It returns the failures.
func (s *script) cutAll(t *testing.T, log []faulty.Op, cuts []cut, random *rand.Rand) (failures []error) {
	dir := t.TempDir()
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0) + 1)
	found := make(chan error, len(cuts))
	platter, done := faulty.NewPlatter(nil), 0
	for i, c := range cuts {
		for ; done < c.op; done++ {
			platter.Do(log[done])
		}
		files, again := platter.Left(c.fate, random), rand.New(rand.NewPCG(random.Uint64(), 0))
		group.Go(func() error {
			at := filepath.Join(dir, fmt.Sprint(i))
			if err := s.judge(at, files, c, i%16 == 0, again); err != nil {
				found <- fmt.Errorf("cut before op %d of %d, unsynced writes %s: %w", c.op, len(log), c.fate, err)
			}
			return os.RemoveAll(at)
		})
	}
	require.NoError(t, group.Wait())
	close(found)
	for err := range found {
		failures = append(failures, err)
	}
	return failures
}

// judge judges what a cut left. Where again is not nil, one time in twenty the power is cut once more while the
// journal is being opened, at several places of that.
func (s *script) judge(dir string, files map[string][]byte, c cut, deep bool, again *rand.Rand) error {
	if again != nil && again.IntN(20) == 0 {
		all, err := cutOpening(dir+"-opening", files, again)
		if err != nil {
			return err
		}
		for i, left := range all {
			again := fmt.Sprintf("%s-%d", dir, i)
			if err := errors.Join(s.judge(again, left, c, deep, nil), os.RemoveAll(again)); err != nil {
				return fmt.Errorf("cut again while it was opened: %w", err)
			}
		}
		return nil
	}
	if err := laid(dir, files); err != nil {
		return err
	}
	kept, err := s.survived(dir, deep)
	want := s.confirmedAt(c.op)
	switch {
	case err != nil:
		return err
	case kept.marks < want.marks:
		return fmt.Errorf("%d marks were confirmed, %d are there", want.marks, kept.marks)
	case kept.readings < want.readings:
		return fmt.Errorf("%d readings were confirmed, %d are there: more than a minute is lost", want.readings, kept.readings)
	case kept.readings%nightProbes != 0 || kept.readings > want.readings+nightProbes || kept.marks > want.marks+1:
		return fmt.Errorf("%v was confirmed, %v is there", want, kept)
	}
	return nil
}

// cutsOfOpening is at how many places the power is cut while one journal is opened.
const cutsOfOpening = 8

// cutOpening opens a journal as it was left, on a disk whose power is cut meanwhile, and returns what may be left
// of that.
func cutOpening(dir string, files map[string][]byte, random *rand.Rand) (all []map[string][]byte, err error) {
	defer os.RemoveAll(dir)
	if err := laid(dir, files); err != nil {
		return nil, err
	}
	l, err := layer()
	if err != nil {
		return nil, err
	}
	disk := l.Over(dir)
	defer l.Remove(disk)
	disk.Keep()
	ctx := context.Background()
	j, err := Open(ctx, filepath.Join(dir, nightFile), Options{})
	if err == nil {
		err = j.Close(ctx)
	}
	if err != nil {
		return nil, err
	}
	log := disk.Log()
	for range cutsOfOpening {
		platter := faulty.NewPlatter(files)
		for _, op := range log[:random.IntN(len(log)+1)] {
			platter.Do(op)
		}
		all = append(all, platter.Left(faulty.Fates()[random.IntN(4)], random))
	}
	return all, nil
}

// The power is cut at any write or sync of a night, and again while the journal is opened after it. What
// was confirmed is there, at most a minute of readings is lost, the file is sound without any repair, and
// the outlook is what follows from what is left.
func TestPowerCutsOfANight(t *testing.T) {
	random := drawn(t)
	s, log := night(t, nil, false)
	cuts := cutsOf(log, random, *cutCount/thinned)
	failures := s.cutAll(t, log, cuts, random)
	require.Empty(t, failures)
	t.Logf("%d power cuts among the %d writes and syncs of a night", len(cuts), len(log))
}

// What the power cuts must find out: journals and disks that do not keep what they promise.
func TestPowerCutsFindBrokenPromises(t *testing.T) {
	noSync := func(log []faulty.Op) (out []faulty.Op) {
		for _, op := range log {
			if op.Kind != faulty.Sync {
				out = append(out, op)
			}
		}
		return out
	}
	for name, broken := range map[string]struct {
		tune  func(*Journal)
		early bool
		disk  func([]faulty.Op) []faulty.Op
	}{
		"commits are not synced":                      {tune: func(j *Journal) { pragma(t, j, "PRAGMA synchronous=OFF") }},
		"commits are synced with the next checkpoint": {tune: func(j *Journal) { pragma(t, j, "PRAGMA synchronous=NORMAL") }},
		"confirmed before it is written":              {early: true},
		"the disk lies about syncs":                   {disk: noSync},
	} {
		t.Run(name, func(t *testing.T) {
			random := drawn(t)
			s, log := night(t, broken.tune, broken.early)
			if broken.disk != nil {
				for i := range s.promises { // each is as old as before, in a shorter log
					s.promises[i].ops = len(broken.disk(log[:s.promises[i].ops]))
				}
				log = broken.disk(log)
			}
			require.NotEmpty(t, s.cutAll(t, log, cutsOf(log, random, 60/min(thinned, 3)), random))
		})
	}
}

func pragma(t *testing.T, j *Journal, query string) {
	_, err := j.write.Exec(query)
	require.NoError(t, err)
}
