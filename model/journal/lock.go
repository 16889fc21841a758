package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// fileLock keeps a second daemon off a journal. It is an exclusive transaction on an empty SQLite file
// beside the journal: that way it works wherever SQLite does, ends with the process however that ends,
// and does not touch the locks on the journal itself, which readers share.
type fileLock struct {
	db   *sql.DB
	conn *sql.Conn
}

func lockFile(ctx context.Context, path string) (*fileLock, error) {
	db, err := connect(path+"-lock", lockQuery, 1)
	if err != nil {
		return nil, err
	}
	l := &fileLock{db: db}
	if l.conn, err = db.Conn(ctx); err == nil {
		_, err = l.conn.ExecContext(ctx, "BEGIN EXCLUSIVE")
	}
	if err == nil {
		return l, nil
	}
	if errors.Is(kindOf(err), ErrBusy) {
		err = fmt.Errorf("open journal %s: %w", path, ErrInUse)
	} else {
		err = explain("lock", path, err)
	}
	return nil, errors.Join(err, l.release())
}

func (l *fileLock) release() error {
	var err error
	if l.conn != nil {
		err = l.conn.Close()
	}
	return errors.Join(err, l.db.Close())
}
