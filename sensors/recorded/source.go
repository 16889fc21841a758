package recorded

import (
	"bufio"
	"compress/gzip"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"sync/atomic"

	"pourward/sensors"
)

// Source delivers the readings of one file. Make it with [New].
type Source struct {
	opts    Options
	skipped atomic.Int64
}

var _ sensors.Source = (*Source)(nil)

// New returns a source, or an error that says what the options lack. The file is opened by Run.
func New(o Options) (*Source, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if o.Comma == 0 {
		o.Comma = ','
	}
	return &Source{opts: o}, nil
}

// Skipped returns how many rows were left out so far because they could not be understood.
func (s *Source) Skipped() int { return int(s.skipped.Load()) }

// Run delivers the file's readings in the order of its rows and returns nil at its end. A row that
// cannot be understood, or is not later than the one before, ends it with a [*RowError] unless such
// rows are to be skipped.
func (s *Source) Run(ctx context.Context, out chan<- sensors.Reading) error {
	in, done, err := s.open()
	if err != nil {
		return err
	}
	defer done()
	rows, err := s.start(in)
	if err != nil {
		return err
	}
	for {
		readings, err := rows.next()
		var bad *RowError
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case errors.As(err, &bad) && s.opts.SkipBadRows:
			s.skipped.Add(1)
			continue
		case err != nil:
			return err
		}
		for _, r := range readings {
			if err := s.deliver(ctx, out, r); err != nil {
				return err
			}
		}
	}
}

func (s *Source) deliver(ctx context.Context, out chan<- sensors.Reading, r sensors.Reading) error {
	if !r.At.After(s.opts.After) {
		return ctx.Err()
	}
	if s.opts.Clock != nil {
		if err := s.opts.Clock.Wait(ctx, r.At); err != nil {
			return err
		}
	}
	select {
	case out <- r:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// open returns the text of the file, uncompressed.
func (s *Source) open() (io.Reader, func() error, error) {
	raw, done := s.opts.Reader, func() error { return nil }
	if raw == nil {
		f, err := os.Open(s.opts.Path)
		if err != nil {
			return nil, nil, fmt.Errorf("read recorded file: %w", err)
		}
		raw, done = f, f.Close
	}
	buffered := bufio.NewReader(raw)
	if magic, _ := buffered.Peek(2); len(magic) < 2 || magic[0] != 0x1F || magic[1] != 0x8B {
		return buffered, done, nil
	}
	unzipped, err := gzip.NewReader(buffered)
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("unpack recorded file %q: %w", s.opts.Path, err), done())
	}
	return unzipped, done, nil
}

// start reads the header.
func (s *Source) start(in io.Reader) (*rows, error) {
	table := csv.NewReader(in)
	table.Comma = s.opts.Comma
	table.ReuseRecord = true
	table.FieldsPerRecord = -1 // a short row is a bad row, not the end
	header, err := table.Read()
	if err != nil {
		return nil, fmt.Errorf("read header of recorded file %q: %w", s.opts.Path, err)
	}
	return newRows(s.opts, table, header)
}
