package journal

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"pourward/model"
	"pourward/sensors"
)

// ErrNotEmpty means that a journal was to be filled that holds something already.
var ErrNotEmpty = errors.New("it holds readings or marks already; name a file that is not there yet, this one was left as it is")

// Restored takes in, piece by piece, a record that was kept elsewhere.
type Restored struct {
	j       *Journal
	waiting int
}

// restoreFlush is how many readings are kept in memory before they are written.
const restoreFlush = 100_000

// Restore makes a journal at path of what fill puts in. The journal is made beside and moved to path once
// it is complete and on the disk: when anything fails, whatever was at path is as it was. A journal that
// is there already must be empty, and no daemon may keep it.
func Restore(ctx context.Context, path string, opts Options, fill func(*Restored) error) (err error) {
	full, err := resolve(path)
	if err != nil {
		return fmt.Errorf("open journal %s: %w; the folder must exist", path, err)
	}
	lock, err := lockFile(ctx, full)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.release()) }()
	if err := mustBeEmpty(ctx, full); err != nil {
		return err
	}
	beside := full + "-restoring"
	if err := discard(beside); err != nil { // of a try that was killed
		return fmt.Errorf("clear %s: %w", beside, err)
	}
	defer func() { err = errors.Join(err, discard(beside)) }()
	opts.MaxWaiting = max(opts.MaxWaiting, 2*restoreFlush)
	if err := restoreInto(ctx, beside, opts, fill); err != nil {
		return err
	}
	return moveIntoPlace(beside, full)
}

func mustBeEmpty(ctx context.Context, path string) error {
	if info, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() == 0 && !exists(path+"-wal") {
		return nil
	}
	j, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		return err
	}
	empty, err := j.empty(ctx)
	if err == nil && !empty {
		err = fmt.Errorf("fill journal %s: %w", path, ErrNotEmpty)
	}
	return errors.Join(err, j.Close(ctx))
}

func restoreInto(ctx context.Context, path string, opts Options, fill func(*Restored) error) error {
	j, err := Open(ctx, path, opts)
	if err != nil {
		return err
	}
	r := &Restored{j: j}
	if err = fill(r); err == nil {
		err = r.finish(ctx)
	}
	return errors.Join(err, j.Close(context.WithoutCancel(ctx)))
}

// finish writes what waits, with the names of probes of which no reading came.
func (r *Restored) finish(ctx context.Context) error {
	if err := r.j.Flush(ctx); err != nil {
		return err
	}
	if _, err := r.j.record(ctx, r.j.take(), nil); err != nil {
		return explain("write to", r.j.path, err)
	}
	return nil
}

// moveIntoPlace puts a closed journal at path. What lies beside an empty journal there goes first: left
// alone, its write-ahead log would be taken for that of the new one.
func moveIntoPlace(from, path string) error {
	for _, end := range []string{"-wal", "-shm"} {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("move the record to %s: %w", path, err)
		}
	}
	if err := os.Rename(from, path); err != nil {
		return fmt.Errorf("move the record to %s: %w", path, err)
	}
	folder, err := os.Open(filepath.Dir(path))
	if err == nil {
		err = errors.Join(folder.Sync(), folder.Close())
	}
	if err != nil {
		return fmt.Errorf("make sure of %s: %w", path, err)
	}
	return nil
}

// discard removes a file with what SQLite may have put beside it.
func discard(path string) error {
	var errs []error
	for _, end := range []string{"", "-wal", "-shm", "-lock"} {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// PutProbe takes a probe's name; names keep the order in which they come.
func (r *Restored) PutProbe(_ context.Context, name string) error {
	r.j.mu.Lock()
	defer r.j.mu.Unlock()
	_, err := r.j.idOf(name)
	return err
}

// PutBoot takes a boot.
func (r *Restored) PutBoot(ctx context.Context, b sensors.Boot) error { return r.j.PutBoot(ctx, b) }

// PutShift takes a shift that was made elsewhere; nothing is moved by it here.
func (r *Restored) PutShift(ctx context.Context, s sensors.Shift) error {
	return r.j.insertShift(ctx, s)
}

// PutMark takes a mark under the number that it has.
func (r *Restored) PutMark(ctx context.Context, m model.Mark) error {
	tx, err := r.j.write.BeginTx(ctx, nil)
	if err != nil {
		return explain("write to", r.j.path, err)
	}
	defer tx.Rollback() // does nothing after a commit
	row := markRow(m.Rounded())
	if _, err = row.insert(ctx, tx); err == nil {
		err = tx.Commit()
	}
	if err != nil {
		return fmt.Errorf("record mark %d, %q: %w", m.ID, m, explain("write to", r.j.path, err))
	}
	return nil
}

// PutReading takes a reading, in any order.
func (r *Restored) PutReading(ctx context.Context, x sensors.Reading) error {
	if err := r.j.AppendReading(x); err != nil {
		return err
	}
	if r.waiting++; r.waiting < restoreFlush {
		return nil
	}
	r.waiting = 0
	return r.j.Flush(ctx)
}
