package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"sync"
	"time"
)

// Options say how a journal is opened. The zero value is right for the daemon.
type Options struct {
	// ReadOnly opens an existing journal for reading alone, also while a daemon keeps it. What the
	// daemon has not flushed yet is not seen.
	ReadOnly bool

	// Log receives what a person should know but no caller waits for. Nil discards it.
	Log *slog.Logger

	// MaxWaiting bounds the readings kept in memory while they cannot be flushed. When one more comes,
	// the oldest is given up. Zero means 250,000: 29 days of one probe at 10 s, about 12 MB.
	MaxWaiting int

	// CheckBudget bounds the check of the file's structure when it is opened; a check that does not end
	// in time is given up and logged. Zero means 2 s, a negative value no check.
	CheckBudget time.Duration
}

const (
	defaultMaxWaiting  = 250_000
	defaultCheckBudget = 2 * time.Second
	readers            = 4 // connections for queries
)

func (o Options) withDefaults() Options {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.MaxWaiting <= 0 {
		o.MaxWaiting = defaultMaxWaiting
	}
	if o.CheckBudget == 0 {
		o.CheckBudget = defaultCheckBudget
	}
	return o
}

// Journal is an open record. Make one with [Open]. All its methods may be called from any goroutine;
// queries neither wait for a flush nor hold it up.
type Journal struct {
	path   string
	opts   Options
	lock   *fileLock
	read   *sql.DB
	write  *sql.DB       // one connection; nil when opened for reading alone
	unread int           // readings that were not packed yet when it was opened, and are damaged
	files  []os.FileInfo // of the file and of its write-ahead log when it was opened; none of one in memory
	held   error         // why the journal is in memory alone and readings wait; nil for one in a file

	writing sync.Mutex // held for a whole flush
	closed  bool       // guarded by writing
	hour    int64      // of the last flush, with grace; guarded by writing
	suspect bool       // the last write failed; guarded by writing

	mu      sync.RWMutex // guards what follows; never held while the disk is written, but for a sealing commit
	ids     map[string]uint16
	names   []string // by probe id; [0] is unused; entries never change
	saved   int      // names up to this index are in the file
	head    head
	waiting []sample // in head, but not in the file
	begin   uint64   // running number of waiting[0]
	lost    uint64
	ended   bool // no more readings are taken
}

// Open opens the journal at path, creates it if it is not there, and brings an older one up to date.
// It fails, leaving the file as it is, if another daemon keeps the journal, if a newer version wrote
// it, if it is damaged, and if it is not a journal.
func Open(ctx context.Context, path string, opts Options) (*Journal, error) {
	return open(ctx, path, opts, embedded())
}

func open(ctx context.Context, path string, opts Options, schema fs.FS) (*Journal, error) {
	full, err := resolve(path)
	if err != nil {
		return nil, fmt.Errorf("open journal %s: %w; the folder must exist", path, err)
	}
	j := &Journal{path: full, opts: opts.withDefaults(), ids: map[string]uint16{}, names: []string{""}}
	if err := j.start(ctx, schema); err != nil {
		return nil, errors.Join(err, j.release())
	}
	return j, nil
}

func (j *Journal) start(ctx context.Context, schema fs.FS) error {
	steps, err := migrations(schema)
	if err != nil {
		return err
	}
	if j.opts.ReadOnly {
		return j.startReading(ctx, steps)
	}
	if j.lock, err = lockFile(ctx, j.path); err != nil {
		return err
	}
	checked, err := j.inspect(ctx, steps)
	if err != nil {
		return err
	}
	if j.write, err = connect(j.path, writeQuery, 1); err != nil {
		return err
	}
	if err := j.prepare(ctx, steps, checked); err != nil {
		return err
	}
	if j.read, err = connect(j.path, readQuery, readers); err != nil {
		return err
	}
	if err := j.load(ctx); err != nil {
		return err
	}
	return j.remember()
}

// startReading opens the file for reading alone. Where the folder cannot be written, SQLite cannot put
// its shared index beside the file; it needs none if there is no write-ahead log, for then nobody
// writes.
func (j *Journal) startReading(ctx context.Context, steps []migration) error {
	if !exists(j.path) {
		return missing(j.path)
	}
	err := j.connectReaders(ctx, readQuery, steps)
	if !errors.Is(err, ErrReadOnly) || exists(j.path+"-wal") {
		return err
	}
	return errors.Join(j.read.Close(), j.connectReaders(ctx, readQuery+"&immutable=1", steps))
}

func (j *Journal) connectReaders(ctx context.Context, query string, steps []migration) error {
	var err error
	if j.read, err = connect(j.path, query, readers); err != nil {
		return err
	}
	return j.current(ctx, query, steps)
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// load mirrors the tail of the file.
func (j *Journal) load(ctx context.Context) error {
	tx, err := j.read.BeginTx(ctx, nil)
	if err != nil {
		return explain("read", j.path, err)
	}
	defer tx.Rollback() // it only reads
	names, err := probeNames(ctx, tx)
	if err != nil {
		return explain("read", j.path, err)
	}
	tail, damaged, err := tailRows(ctx, tx, 0, endMS)
	if err != nil {
		return explain("read", j.path, err)
	}
	if damaged > 0 {
		j.unread = damaged
		j.opts.Log.Error("readings that were not packed yet are damaged and left out", "path", j.path, "readings", damaged)
	}
	j.names, j.saved = names, len(names)-1
	for id, name := range names {
		if name != "" {
			j.ids[name] = uint16(id)
		}
	}
	for _, s := range tail {
		j.head.add(s)
	}
	j.hour = hourOf(j.head.newest())
	return nil
}

// Close flushes, moves everything into the one file and closes it. When the flush fails the file is
// closed all the same, and the error says how many readings are lost. Closing twice is harmless.
func (j *Journal) Close(ctx context.Context) error {
	j.writing.Lock()
	defer j.writing.Unlock()
	if j.closed {
		return nil
	}
	j.mu.Lock()
	j.ended = true
	j.mu.Unlock()
	var err error
	switch {
	case j.held != nil && j.Waiting() > 0:
		err = fmt.Errorf("%w; %d readings are not in the record", j.held, j.Waiting())
	case j.held == nil && j.write != nil:
		err = j.settle(ctx)
	}
	j.closed = true
	return errors.Join(err, j.release())
}

// settle flushes and empties the write-ahead log.
func (j *Journal) settle(ctx context.Context) error {
	if err := j.flush(ctx); err != nil {
		return fmt.Errorf("%w; %d readings are not in the record", err, j.Waiting())
	}
	if _, err := j.write.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		return explain("close", j.path, err)
	}
	return nil
}

func (j *Journal) release() error {
	var errs []error
	if j.read != nil {
		errs = append(errs, j.read.Close())
	}
	if j.write != nil {
		errs = append(errs, j.write.Close())
	}
	if j.lock != nil {
		errs = append(errs, j.lock.release())
	}
	return errors.Join(errs...)
}
