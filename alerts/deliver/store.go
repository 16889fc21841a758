package deliver

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"

	_ "modernc.org/sqlite" // registers the driver
)

// version of the file's schema. The file holds what is under way, nothing that is kept: one of another version
// is set aside like a damaged one.
const (
	applicationID = 0x506f7743 // "PowC"
	version       = 1
)

const schema = `
CREATE TABLE episode (
	id    INTEGER PRIMARY KEY,
	alert TEXT NOT NULL,      -- as JSON
	ended INTEGER NOT NULL    -- nanoseconds since 1970 by the shop clock; 0 while it stands
);
CREATE TABLE share (
	episode INTEGER NOT NULL REFERENCES episode ON DELETE CASCADE,
	target  TEXT NOT NULL,
	began   INTEGER NOT NULL,
	ended   INTEGER NOT NULL,
	held    INTEGER NOT NULL,
	PRIMARY KEY (episode, target)
) WITHOUT ROWID;
CREATE TABLE sending (        -- messages that may have been taken
	target  TEXT NOT NULL,
	key     TEXT NOT NULL,
	parcel  TEXT NOT NULL,    -- as JSON
	PRIMARY KEY (target, key)
) WITHOUT ROWID;`

// store keeps a book on disk.
type store struct {
	db *sql.DB
}

// openStore opens the file at path, or makes it. What cannot be used is set aside, with the reason; so is
// one that is known not to be of use.
func openStore(ctx context.Context, path string, useless bool) (s *store, aside, err error) {
	if !useless {
		if s, aside = tryStore(ctx, path); aside == nil {
			return s, nil, nil
		}
	}
	if ctx.Err() != nil {
		return nil, nil, ctx.Err()
	}
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Rename(path+suffix, path+".unusable"+suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, nil, errors.Join(aside, err)
		}
	}
	s, err = tryStore(ctx, path)
	return s, aside, err
}

func tryStore(ctx context.Context, path string) (_ *store, err error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open the books of messages: %w", err)
	}
	name := url.URL{Scheme: "file", Path: filepath.ToSlash(full), RawQuery: "_txlock=immediate&_dqs=0&_defensive=1" +
		"&_pragma=busy_timeout(2000)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys(ON)"}
	db, err := sql.Open("sqlite", name.String())
	if err != nil {
		return nil, fmt.Errorf("open the books of messages: %w", err)
	}
	db.SetMaxOpenConns(1)
	s := &store{db: db}
	if err := s.prepare(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("open the books of messages %s: %w", path, err), db.Close())
	}
	return s, nil
}

func (s *store) prepare(ctx context.Context) error {
	var id, have int
	var verdict string
	row := s.db.QueryRowContext(ctx, "SELECT application_id, user_version FROM pragma_application_id, pragma_user_version")
	if err := row.Scan(&id, &have); err != nil {
		return err
	}
	switch err := s.db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&verdict); {
	case err != nil:
		return err
	case verdict != "ok":
		return fmt.Errorf("the file is damaged: %s", verdict)
	case id == applicationID && have == version:
		return nil
	case id != 0 || have != 0:
		return fmt.Errorf("the file is of another kind or version (%#x, %d)", id, have)
	}
	return s.within(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, fmt.Sprintf("%s\nPRAGMA application_id=%d; PRAGMA user_version=%d", schema, applicationID, version))
		return err
	})
}

func (s *store) close() error {
	if s == nil {
		return nil
	}
	return s.db.Close()
}

// within does something in one transaction.
func (s *store) within(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// save puts what changed on disk, and with it what became of a message to a target: it is on its way, or
// settled; nil for none.
func (s *store) save(ctx context.Context, c changes, way *onTheWay) error {
	err := s.within(ctx, func(tx *sql.Tx) error {
		for _, e := range c.put {
			if err := putEpisode(ctx, tx, e); err != nil {
				return err
			}
		}
		for _, id := range c.drop {
			if _, err := tx.ExecContext(ctx, "DELETE FROM episode WHERE id = ?", id); err != nil {
				return err
			}
		}
		return way.put(ctx, tx)
	})
	if err != nil {
		return fmt.Errorf("write the books of messages: %w", err)
	}
	return nil
}

func putEpisode(ctx context.Context, tx *sql.Tx, e *episode) error {
	text, err := json.Marshal(e.alert)
	if err != nil {
		return err
	}
	ended := int64(0)
	if !e.ended.IsZero() {
		ended = e.ended.UnixNano()
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO episode VALUES (?, ?, ?)
		ON CONFLICT DO UPDATE SET alert = excluded.alert, ended = excluded.ended`, e.id, string(text), ended); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM share WHERE episode = ?", e.id); err != nil {
		return err
	}
	for target, sh := range e.open {
		if _, err := tx.ExecContext(ctx, "INSERT INTO share VALUES (?, ?, ?, ?, ?)", e.id, target, sh.began, sh.ended, sh.held); err != nil {
			return err
		}
	}
	return nil
}

// onTheWay says that a message is on its way to a target, or that it is so no more.
type onTheWay struct {
	target  string
	parcel  *parcel
	settled bool
}

func (w *onTheWay) put(ctx context.Context, tx *sql.Tx) error {
	if w == nil {
		return nil
	}
	if w.settled {
		_, err := tx.ExecContext(ctx, "DELETE FROM sending WHERE target = ? AND key = ?", w.target, w.parcel.Message.Key)
		return err
	}
	text, err := json.Marshal(w.parcel)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT OR REPLACE INTO sending VALUES (?, ?, ?)", w.target, w.parcel.Message.Key, string(text))
	return err
}
