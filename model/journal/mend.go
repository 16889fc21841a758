package journal

import (
	"context"
	"errors"
	"fmt"

	"pourward/model"
)

// ErrNothingWhole means that there is nothing to make a journal of.
var ErrNothingWhole = errors.New("nothing of it can be read; restore a backup")

// Mend makes a new journal at path to of all that is whole in the journal at path from and in the rescue
// journals beside it, and tells what is lost. The old files are only read. No daemon may keep them: what it
// adds would be missing from the new journal.
func Mend(ctx context.Context, from, to string, opts Options) (lost model.Lost, err error) {
	full, err := resolve(from)
	if err != nil {
		return lost, fmt.Errorf("open journal %s: %w; the folder must exist", from, err)
	}
	files := append([]string{full}, Rescues(full)...)
	if !exists(full) && len(files) == 1 {
		return lost, missing(full)
	}
	for _, path := range files {
		free, err := reserve(ctx, path)
		if err != nil {
			return lost, err
		}
		defer free()
		if err := notNewer(ctx, path); err != nil {
			return lost, err
		}
	}
	err = Restore(ctx, to, opts, func(r *Restored) error {
		s, err := r.j.salvage(ctx, files, 0)
		if err == nil && s.blank {
			err = fmt.Errorf("mend journal %s: %w", full, ErrNothingWhole)
		}
		lost = s.told()
		return err
	})
	return lost, err
}

// reserve keeps daemons off a file, where that can be done: on a disk that cannot be written no daemon
// writes either.
func reserve(ctx context.Context, path string) (free func(), err error) {
	lock, err := lockFile(ctx, path)
	switch {
	case errors.Is(err, ErrInUse):
		return nil, err
	case err != nil:
		return func() {}, ctx.Err()
	}
	return func() { _ = lock.release() }, nil // nothing was written that could fail to be
}

// notNewer refuses what this version would understand in part only.
func notNewer(ctx context.Context, path string) error {
	w, err := openWreck(ctx, path)
	if err != nil {
		return ctx.Err() // it cannot be read, and is left out
	}
	defer w.close()
	steps, err := migrations(embedded())
	if err != nil {
		return err
	}
	var version int
	if err := w.db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err == nil && version > len(steps) {
		return fmt.Errorf("open journal %s: schema version %d, known up to %d: %w", path, version, len(steps), ErrNewer)
	}
	return nil
}
