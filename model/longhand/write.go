package longhand

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"slices"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Source is a record to be written out.
type Source interface {
	Probes(context.Context) ([]string, error)
	Boots(context.Context) ([]sensors.Boot, error)
	Shifts(context.Context) ([]sensors.Shift, error)
	Marks(context.Context) ([]model.Mark, error)
	Readings(ctx context.Context, from, to time.Time, yield func(sensors.Reading) error) error
}

// Count is how much it holds.
type Count struct{ Readings, Marks int64 }

// ErrMoved means that the record was dated anew while it was being written out.
var ErrMoved = errors.New("the time of day was set and the record dated anew while it was being written out; write it out again")

// Write writes out everything that a record holds. written is the instant to name in the header. The
// record may grow meanwhile: what is added then may or may not be in.
func Write(ctx context.Context, to io.Writer, from Source, written time.Time) (Count, error) {
	w := &writer{buf: bufio.NewWriterSize(to, 64<<10), sum: sha256.New()}
	w.enc = json.NewEncoder(io.MultiWriter(w.buf, w.sum))
	w.enc.SetEscapeHTML(false)
	if err := w.line(line{Header: &header{Version, instant(written)}}); err != nil {
		return w.n, err
	}
	shifts, err := from.Shifts(ctx)
	if err != nil {
		return w.n, err
	}
	if err := w.dating(ctx, from, shifts); err != nil {
		return w.n, err
	}
	if err := w.marks(ctx, from); err != nil {
		return w.n, err
	}
	if err := w.readings(ctx, from); err != nil {
		return w.n, err
	}
	if now, err := from.Shifts(ctx); err != nil || !slices.Equal(now, shifts) {
		return w.n, errors.Join(err, ErrMoved)
	}
	return w.n, w.finish()
}

type writer struct {
	buf *bufio.Writer
	sum hash.Hash
	enc *json.Encoder
	n   Count
}

func (w *writer) line(l line) error {
	if err := w.enc.Encode(l); err != nil {
		return fmt.Errorf("write out the record: %w", err)
	}
	return nil
}

// dating writes the probes, and under which labels things were recorded.
func (w *writer) dating(ctx context.Context, from Source, shifts []sensors.Shift) error {
	names, err := from.Probes(ctx)
	if err != nil {
		return err
	}
	boots, err := from.Boots(ctx)
	if err != nil {
		return err
	}
	var lines []line
	for _, name := range names {
		lines = append(lines, line{Probe: &probe{name}})
	}
	for _, b := range boots {
		lines = append(lines, line{Boot: &boot{b.ID, b.Zero, b.First, b.Trusted}})
	}
	for _, s := range shifts {
		lines = append(lines, line{Shift: &shift{s.Boot, s.From, s.By.Milliseconds()}})
	}
	for _, l := range lines {
		if err := w.line(l); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) marks(ctx context.Context, from Source) error {
	marks, err := from.Marks(ctx)
	if err != nil {
		return err
	}
	for _, m := range marks {
		x := MarkOf(m)
		if err := w.line(line{Mark: &x}); err != nil {
			return fmt.Errorf("mark %d, %q: %w", m.ID, m, err)
		}
		w.n.Marks++
	}
	return nil
}

func (w *writer) readings(ctx context.Context, from Source) error {
	return from.Readings(ctx, time.Time{}, endOfTime(), func(r sensors.Reading) error {
		w.n.Readings++
		return w.line(line{Reading: readingOf(r)})
	})
}

// endOfTime is later than anything a record holds.
func endOfTime() time.Time { return time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) }

// finish writes the line by which a reader knows that all is there.
func (w *writer) finish() error {
	sum := hex.EncodeToString(w.sum.Sum(nil))
	if err := w.line(line{End: &end{w.n.Readings, w.n.Marks, sum}}); err != nil {
		return err
	}
	if err := w.buf.Flush(); err != nil {
		return fmt.Errorf("write out the record: %w", err)
	}
	return nil
}
