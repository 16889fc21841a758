package journal

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/journal/faulty"
	"pourward/model/loop"
	"pourward/sensors"
)

var (
	cutSeed  = flag.Uint64("cuts.seed", 0, "seed that the places of power cuts and faults are drawn from; 0 draws one")
	cutCount = flag.Int("cuts", 2400, "how many power cuts of a night")
	cutsAll  = flag.Bool("cuts.all", false, "cut at every write and sync, in every way, not at a sample of them")

	layer = sync.OnceValues(faulty.Install)
)

// drawn returns the source of a test's chances and says how to repeat it.
func drawn(t *testing.T) *rand.Rand {
	seed := cmp.Or(*cutSeed, rand.Uint64())
	t.Logf("repeat with -cuts.seed=%d", seed)
	return rand.New(rand.NewPCG(seed, 0))
}

// faultyDisk is a folder on a disk that can be made to fail.
func faultyDisk(t testing.TB) (dir string, disk *faulty.Disk) {
	l, err := layer()
	require.NoError(t, err)
	dir = t.TempDir()
	return dir, l.Over(dir)
}

const (
	nightFile   = "night.journal"
	nightHours  = 9
	nightRounds = nightHours * 60 // a flush a minute
	nightProbes = 4               // each asked once a minute
)

// nightMarks are what is marked in a night, by the minute. One is late, one corrects another.
func nightMarks() map[int]model.Mark {
	at := func(minute int) time.Time { return noon.Add(time.Duration(minute) * time.Minute) }
	return map[int]model.Mark{
		10:  {Kind: model.Begun, Place: "bench", Material: "platinum-slow", Title: "Frieze, east"},
		20:  {Kind: model.CoatOn, Material: "shellac"},
		80:  {Kind: model.CoatOn, Material: "lacquer", At: at(70)},
		85:  {Kind: model.CoatOn, Material: "lacquer", At: at(72), Corrects: 3},
		150: {Kind: model.Mixed, Material: "platinum-slow"},
		160: {Kind: model.Poured},
		300: {Kind: model.Checked, Of: model.Cup, Found: model.Tacky},
		420: {Kind: model.Checked, Of: model.Cup, Found: model.Tacky, Note: "sticks, prints"},
		530: {Kind: model.Checked, Of: model.Cup, Found: model.Firm},
	}
}

// nightReadings are those of a night.
func nightReadings() []sensors.Reading {
	all := shop(0, nightRounds*nightProbes, nightProbes)
	for i := range all {
		all[i].At = noon.Add(time.Duration(i/nightProbes) * time.Minute)
	}
	return all
}

// script is a night at the shop, and how far it has come.
type script struct {
	readings []sensors.Reading // of the whole night
	marks    []model.Mark      // confirmed ones
	promises []promised
}

// promised is what was confirmed when the disk had been asked to do a number of things.
type promised struct {
	ops int
	count
}

// night plays a night on a disk. tune may spoil the journal, and early the promise: it is given before
// it is kept then. Either must be found out.
func night(t *testing.T, tune func(*Journal), early bool) (*script, []faulty.Op) {
	t.Helper()
	ctx := context.Background()
	dir, disk := faultyDisk(t)
	disk.Keep()
	j, err := Open(ctx, filepath.Join(dir, nightFile), Options{})
	require.NoError(t, err)
	_, err = j.write.Exec("PRAGMA wal_autocheckpoint=150") // pages; so that the log moves into the file often
	require.NoError(t, err)
	if tune != nil {
		tune(j)
	}
	s := &script{readings: nightReadings()}
	now := promised{ops: disk.Done()}
	s.promises = append(s.promises, now)
	confirm := func(do func()) {
		if !early {
			do()
		}
		now.ops = disk.Done()
		s.promises = append(s.promises, now)
		if early {
			do()
		}
	}
	marks := nightMarks()
	for minute := range nightRounds {
		appendAll(t, j, s.readings[now.readings:now.readings+nightProbes])
		now.readings += nightProbes
		m, marked := marks[minute]
		if !marked {
			confirm(func() { require.NoError(t, j.Flush(ctx)) })
			continue
		}
		m.Mold, m.Entered = "frieze", noon.Add(time.Duration(minute)*time.Minute)
		if m.At.IsZero() {
			m.At = m.Entered
		}
		now.marks++
		confirm(func() {
			m, err := j.AppendMark(ctx, m)
			require.NoError(t, err)
			s.marks = append(s.marks, m)
		})
	}
	require.NoError(t, j.Close(ctx))
	return s, disk.Log()
}

// confirmedAt is what had been confirmed before the op-th thing was done to the disk.
func (s *script) confirmedAt(op int) (c count) {
	for _, p := range s.promises {
		if p.ops <= op {
			c = p.count
		}
	}
	return c
}

// laid writes files, as they were left, into a folder.
func laid(dir string, files map[string][]byte) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			return err
		}
	}
	return nil
}

// survived opens a journal as it was left, without any repair, and says what it holds. What it holds must
// be the beginning of the night, unchanged, in a sound file. With deep every index is checked as well, and the
// outlook must be the one that follows.
func (s *script) survived(dir string, deep bool) (c count, err error) {
	ctx := context.Background()
	j, err := Open(ctx, filepath.Join(dir, nightFile), Options{CheckBudget: time.Hour}) // runs quick_check
	if err != nil {
		return c, err
	}
	defer func() {
		if e := j.Close(ctx); err == nil {
			err = e
		}
	}()
	err = j.Readings(ctx, time.Time{}, noon.AddDate(1, 0, 0), func(r sensors.Reading) error {
		if c.readings == len(s.readings) || r != s.readings[c.readings] {
			return fmt.Errorf("reading %d is %v", c.readings, r)
		}
		c.readings++
		return nil
	})
	if err != nil {
		return c, err
	}
	marks, err := j.Marks(ctx)
	if err != nil {
		return c, err
	}
	for i, m := range marks {
		if i == len(s.marks) || !sameMark(m, s.marks[i]) {
			return c, fmt.Errorf("mark %d is %v", i+1, m)
		}
	}
	c.marks = int64(len(marks))
	if deep {
		return c, errors.Join(s.sameOutlook(j, c), sound(j))
	}
	return c, nil
}

// sound checks the whole file.
func sound(j *Journal) error {
	var verdict string
	err := j.write.QueryRow("PRAGMA integrity_check").Scan(&verdict)
	if err == nil && verdict != "ok" {
		err = errors.New(verdict)
	}
	return err
}

// sameOutlook compares what a shop tells from a journal with what one tells from the beginning of the
// night that the journal holds.
func (s *script) sameOutlook(j *Journal, c count) error {
	got, err := outlookFrom(j)
	if err != nil {
		return err
	}
	want, err := outlookFrom(&recited{marks: s.marks[:c.marks], readings: s.readings[:c.readings]})
	if err != nil {
		return err
	}
	if !reflect.DeepEqual(want.Molds, got.Molds) {
		return fmt.Errorf("of %v the outlook is\n%+v\nand not\n%+v", c, got.Molds, want.Molds)
	}
	return nil
}

func outlookFrom(r loop.Record) (*model.Outlook, error) {
	setup := model.Setup{Places: []string{"bench", "annex"}}
	for i := range nightProbes {
		setup.Probes = append(setup.Probes, model.Probe{Name: fmt.Sprintf("probe %d", i), Place: setup.Places[i%2], Every: time.Minute})
	}
	l, err := loop.New(context.Background(), loop.Options{Setup: setup, Record: r, Clock: morning{}})
	if err != nil {
		return nil, err
	}
	return l.Snapshot().Outlook, nil
}

// morning is a clock that stands still when the night is over.
type morning struct{}

func (morning) Now() time.Time { return noon.Add(nightHours * time.Hour) }

func (morning) Wait(ctx context.Context, _ time.Time) error {
	<-ctx.Done()
	return ctx.Err()
}

// recited is a record that holds what it is told.
type recited struct {
	loop.Memory
	marks    []model.Mark
	readings []sensors.Reading
}

func (r *recited) Marks(context.Context) ([]model.Mark, error) { return r.marks, nil }

func (r *recited) Readings(_ context.Context, from, to time.Time, yield func(sensors.Reading) error) error {
	for _, x := range r.readings {
		if x.At.Before(from) || !x.At.Before(to) {
			continue
		}
		if err := yield(x); err != nil {
			return err
		}
	}
	return nil
}

func (r *recited) Span(context.Context) (first, last time.Time, err error) {
	if n := len(r.readings); n > 0 {
		first, last = r.readings[0].At, r.readings[n-1].At
	}
	return first, last, nil
}
