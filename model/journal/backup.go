package journal

import (
	"context"
	"errors"
	"fmt"
	"os"
)

// Backup writes a copy of the whole record, readings that wait included, to a new file at path. It may
// be called while the journal is in use. The copy is on the disk when it returns; a file that is there
// already is left alone.
func (j *Journal) Backup(ctx context.Context, path string) error {
	if exists(path) {
		return fmt.Errorf("back up journal %s to %s: a file of that name is there; choose another", j.path, path)
	}
	if j.write != nil {
		if err := j.Flush(ctx); err != nil {
			return fmt.Errorf("back up to %s: %w", path, err)
		}
	}
	if _, err := j.read.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		return fmt.Errorf("back up to %s: %w", path, explain("copy", j.path, err))
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err == nil {
		err = errors.Join(f.Sync(), f.Close())
	}
	if err != nil {
		return fmt.Errorf("back up journal %s to %s: %w", j.path, path, err)
	}
	return nil
}
