package journal

import (
	"context"
	"errors"
	"fmt"
	"os"

	"pourward/model"
)

// A file that is deleted or moved while it is open goes on taking what is written to it, and all of that is
// gone when the daemon ends. So nothing is confirmed before the file has been seen in its place.

// fileNames are the files in which a record is: what was confirmed last may be in the log alone.
func (j *Journal) fileNames() []string { return []string{j.path, j.path + "-wal"} }

// remember notes which files were opened.
func (j *Journal) remember() error {
	for _, name := range j.fileNames() {
		info, err := os.Stat(name)
		if err != nil {
			return fmt.Errorf("open journal %s: %w", j.path, err)
		}
		j.files = append(j.files, info)
	}
	return nil
}

// inPlace reports of the file and of its log whether it is the one that was opened. Where that cannot be
// looked up, it counts as being there: what is wrong is not that it is gone.
func (j *Journal) inPlace() (file, log bool) {
	is := func(n int) bool {
		info, err := os.Stat(j.fileNames()[n])
		return err == nil && os.SameFile(info, j.files[n]) || err != nil && !errors.Is(err, os.ErrNotExist)
	}
	if len(j.files) == 0 {
		return true, true
	}
	return is(0), is(1)
}

// stillThere makes sure that the file in use is the one that will be found under its name. When it is not, all
// of it is written anew in its place; where another file lies there, into a rescue journal.
func (k *Keeper) stillThere(ctx context.Context) error {
	j := k.current()
	file, log := j.inPlace()
	if file && log {
		return nil
	}
	gone := fmt.Errorf("keep journal %s: %w", j.path, ErrGone)
	k.opts.Log.Error("the journal's file is gone", "why", gone)
	to, stand := j.path, k.Stand()
	var err error
	if file {
		err = j.emptyLog(ctx)
	} else {
		if exists(to) {
			to = RescueOf(k.path, len(Rescues(k.path))+1)
			stand = model.RecordStand{State: model.RecordReplaced, File: k.path, Rescue: to, Why: "another file was put in its place while it was in use"}
		}
		err = j.copyTo(ctx, to)
	}
	if err != nil {
		return fmt.Errorf("%w (%w)", gone, err)
	}
	return k.move(ctx, gone, func(ctx context.Context) (*Journal, model.RecordStand, error) {
		next, err := Open(ctx, to, k.opts)
		return next, stand, err
	})
}

// emptyLog moves what is in the log into the file.
func (j *Journal) emptyLog(ctx context.Context) error {
	j.writing.Lock()
	defer j.writing.Unlock()
	var busy, pages, moved int
	err := j.write.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &moved)
	if err == nil && busy != 0 {
		err = ErrBusy
	}
	if err != nil {
		return explain("write to", j.path, err)
	}
	return nil
}

// copyTo writes all of the record into a new file.
func (j *Journal) copyTo(ctx context.Context, path string) error {
	beside := path + "-restoring"
	if err := discard(beside); err != nil { // of a try that failed
		return err
	}
	if err := j.Backup(ctx, beside); err != nil {
		return err
	}
	return moveIntoPlace(beside, path)
}
