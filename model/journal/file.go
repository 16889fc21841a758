package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	_ "modernc.org/sqlite" // registers the driver
)

// Settings of the connections, see https://www.sqlite.org/pragma.html. FULL makes a commit wait until
// the write-ahead log is on the disk.
const (
	writeQuery = "_txlock=immediate&_dqs=0&_error_rc=1&_defensive=1" +
		"&_pragma=busy_timeout(2000)" +
		"&_pragma=synchronous(FULL)" +
		"&_pragma=foreign_keys(ON)" +
		"&_pragma=cell_size_check(ON)" +
		"&_pragma=wal_autocheckpoint(1000)" + // pages: 4 MiB
		"&_pragma=journal_size_limit(4194304)"
	readQuery = "mode=ro&_dqs=0&_error_rc=1" +
		"&_pragma=busy_timeout(2000)" +
		"&_pragma=cell_size_check(ON)"
	lockQuery = "_error_rc=1&_pragma=busy_timeout(0)"
)

// resolve follows links, so that one journal has one name.
func resolve(path string) (string, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	if target, err := filepath.EvalSymlinks(full); err == nil {
		return target, nil
	}
	folder, err := filepath.EvalSymlinks(filepath.Dir(full)) // the file is not there yet
	return filepath.Join(folder, filepath.Base(full)), err
}

func connect(path, query string, connections int) (*sql.DB, error) {
	name := url.URL{Scheme: "file", Path: filepath.ToSlash(path), RawQuery: query}
	db, err := sql.Open("sqlite", name.String())
	if err != nil {
		return nil, explain("open", path, err)
	}
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	return db, nil
}

// prepare brings a sound journal up to date.
func (j *Journal) prepare(ctx context.Context, steps []migration, checked bool) error {
	conn, have, err := j.first(ctx, j.write, steps)
	if err != nil {
		return err
	}
	defer conn.Close()
	if !checked {
		if err := j.check(ctx, readQuery); err != nil {
			return err
		}
	}
	if err := writable(conn); err != nil {
		return explain("open", j.path, err)
	}
	var mode string
	if err := conn.QueryRowContext(ctx, "PRAGMA journal_mode=WAL").Scan(&mode); err != nil {
		return explain("open", j.path, err)
	}
	if mode != "wal" {
		return fmt.Errorf("open journal %s: its disk cannot keep a write-ahead log (mode %s); put it on a local disk",
			j.path, mode)
	}
	for _, m := range steps[have:] {
		if err := m.apply(ctx, conn); err != nil {
			return explain("bring up to date", j.path, err)
		}
		j.opts.Log.Info("journal brought up to date", "path", j.path, "version", m.version, "change", m.name)
	}
	if err := sumOldMarks(ctx, conn); err != nil {
		return explain("bring up to date", j.path, err)
	}
	return nil
}

// inspect makes sure that a file that is there is a sound journal, and of no newer version, without opening
// it for writing: closing it then would move its write-ahead log into a file that is to be left as it is.
// It reports whether it could: not before what a power cut left half done is undone, which needs to write.
func (j *Journal) inspect(ctx context.Context, steps []migration) (checked bool, err error) {
	if info, err := os.Stat(j.path); err != nil || info.Size() == 0 {
		return false, nil // it is made by whoever opens it for writing, who says what is wrong with its place
	}
	db, err := connect(j.path, readQuery, 1)
	if err != nil {
		return false, err
	}
	defer db.Close()
	conn, _, err := j.first(ctx, db, steps)
	if errors.Is(err, ErrReadOnly) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if err := conn.Close(); err != nil {
		return false, explain("open", j.path, err)
	}
	return true, j.check(ctx, readQuery)
}

// writable makes sure that the file was opened for writing: SQLite falls back to reading where it must
// not write, and would say so only at the first flush.
func writable(conn *sql.Conn) error {
	return conn.Raw(func(c any) error {
		teller, ok := c.(interface{ IsReadOnly(string) (bool, error) })
		if !ok {
			return fmt.Errorf("the driver %T does not tell whether a file can be written", c)
		}
		readOnly, err := teller.IsReadOnly("main")
		if readOnly {
			return ErrReadOnly
		}
		return err
	})
}

// first makes the first connection and returns it with the schema version of the file.
func (j *Journal) first(ctx context.Context, db *sql.DB, steps []migration) (*sql.Conn, int, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, 0, explain("open", j.path, err)
	}
	have, err := j.version(ctx, conn, steps)
	if err != nil {
		return nil, 0, errors.Join(err, conn.Close())
	}
	return conn, have, nil
}

// version returns the schema version of the file, 0 for an empty one, and fails if the file is not
// a journal or too new.
func (j *Journal) version(ctx context.Context, conn *sql.Conn, steps []migration) (int, error) {
	var id, version, objects int
	err := conn.QueryRowContext(ctx, `SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema)
		FROM pragma_application_id, pragma_user_version`).Scan(&id, &version, &objects)
	switch {
	case err != nil:
		return 0, explain("open", j.path, err)
	case id == 0 && version == 0 && objects == 0:
		return 0, nil
	case id != applicationID:
		return 0, fmt.Errorf("open journal %s: %w", j.path, ErrNotJournal)
	case version > len(steps):
		return 0, fmt.Errorf("open journal %s: schema version %d, known up to %d: %w",
			j.path, version, len(steps), ErrNewer)
	}
	return version, nil
}

// current makes sure that a journal opened for reading alone can be read as it is.
func (j *Journal) current(ctx context.Context, query string, steps []migration) error {
	conn, have, err := j.first(ctx, j.read, steps)
	if err != nil {
		return err
	}
	defer conn.Close()
	if have < len(steps) {
		return fmt.Errorf("open journal %s: schema version %d is older than %d: %w", j.path, have, len(steps), ErrOlder)
	}
	return j.check(ctx, query)
}

// check looks at the structure of the file, as far as the budget goes. It has a connection of its own:
// on another's, a change to write-ahead logging right after it would leave a lock behind.
func (j *Journal) check(ctx context.Context, query string) error {
	if j.opts.CheckBudget < 0 {
		return nil
	}
	db, err := connect(j.path, query, 1)
	if err != nil {
		return err
	}
	defer db.Close()
	within, cancel := context.WithTimeout(ctx, j.opts.CheckBudget)
	defer cancel()
	var verdict string
	err = db.QueryRowContext(within, "PRAGMA quick_check(1)").Scan(&verdict)
	switch {
	case within.Err() != nil && ctx.Err() == nil:
		j.opts.Log.Warn("check of the journal did not end within its budget", "path", j.path, "budget", j.opts.CheckBudget)
		return nil
	case err != nil:
		return explain("check", j.path, err)
	case verdict != "ok":
		return fmt.Errorf("check journal %s: %w (%s)", j.path, ErrDamaged, strings.Join(strings.Fields(verdict), " "))
	}
	return nil
}
