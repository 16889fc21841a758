package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"pourward/model"
)

// What can be wrong with a journal. Errors of this package wrap one of them where one fits.
var (
	ErrInUse      = errors.New("another pourward keeps this journal; stop it first, or name another file")
	ErrNewer      = errors.New("written by a newer pourward; run that version or a later one")
	ErrOlder      = errors.New("written by an older pourward; start the daemon on it once")
	ErrNotJournal = errors.New("not a journal; name another file, this one was left as it is")
	ErrDamaged    = errors.New("the file is damaged; keep a copy of it and of the files beside it, and make a new journal of what is whole with pourward mend, or restore a backup")
	ErrNoSpace    = errors.New("the disk is full; free some space")
	ErrReadOnly   = errors.New("the file cannot be written; check who owns it and its folder, and that the disk is not mounted read-only")
	ErrDisk       = errors.New("the disk fails; look at its card, cable and mount, and at the kernel's log")
	ErrGone       = errors.New("the file was moved, deleted or replaced while it was in use; put it back, or leave a folder and room in its place, and it is written anew")
	ErrBusy       = errors.New("another program holds the file locked; let it finish")
	ErrClosed     = errors.New("the journal is closed")
)

// explain says what was tried on the file at path, and names the cause and the way out if it is known.
func explain(doing, path string, err error) error {
	if kind := kindOf(err); kind != nil {
		return fmt.Errorf("%s journal %s: %w (%w)", doing, path, kind, err)
	}
	return fmt.Errorf("%s journal %s: %w", doing, path, err)
}

func kindOf(err error) error {
	var failed *sqlite.Error
	if !errors.As(err, &failed) {
		return nil
	}
	switch failed.Code() & 0xff { // the low byte is the primary result code
	case sqlite3.SQLITE_NOTADB:
		return ErrNotJournal
	case sqlite3.SQLITE_CORRUPT:
		return ErrDamaged
	case sqlite3.SQLITE_FULL:
		return ErrNoSpace
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		return ErrReadOnly
	case sqlite3.SQLITE_IOERR:
		return ErrDisk
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return ErrBusy
	}
	return nil
}

// missing reports a journal that is not there.
func missing(path string) error {
	return fmt.Errorf("open journal %s: %w; check the name", path, fs.ErrNotExist)
}

// Damage is a block of readings that cannot be unpacked.
type Damage struct {
	Probe string
	Hour  time.Time // begin of the hour, UTC
	Cause error
}

// DamageError lists the blocks or marks that a query had to leave out. Everything else the query asked for has
// been delivered when it is returned.
type DamageError struct {
	Path   string
	Blocks []Damage
	Marks  []model.LostMark
}

func (e *DamageError) Error() string {
	var parts []string
	for _, d := range e.Blocks {
		parts = append(parts, fmt.Sprintf("readings of probe %s, hour from %s (%v)", d.Probe, d.Hour.Format(time.RFC3339), d.Cause))
	}
	for _, m := range e.Marks {
		parts = append(parts, fmt.Sprintf("%s (%v)", m, errChecksum))
	}
	const most = 5
	if n := len(parts); n > most {
		parts = append(parts[:most], fmt.Sprintf("and %d more", n-most))
	}
	return fmt.Sprintf("journal %s: lost to damage in the file: %s; a backup may still have them", e.Path, strings.Join(parts, "; "))
}

// Is makes a DamageError an [ErrDamaged].
func (e *DamageError) Is(target error) bool { return target == ErrDamaged }

// orNil returns e if there was damage.
func (e *DamageError) orNil() error {
	if len(e.Blocks) == 0 && len(e.Marks) == 0 {
		return nil
	}
	return e
}
