package longhand

import (
	"bufio"
	"bytes"
	"compress/flate"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"strings"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Sink takes a record in, piece by piece.
type Sink interface {
	PutProbe(context.Context, string) error
	PutBoot(context.Context, sensors.Boot) error
	PutShift(context.Context, sensors.Shift) error
	PutMark(context.Context, model.Mark) error
	PutReading(context.Context, sensors.Reading) error
}

// What can be wrong with it. Errors of [Read] wrap one of them where one fits.
var (
	ErrNotLonghand = errors.New("not a record written out by pourward; name another file")
	ErrNewer       = errors.New("written by a newer pourward; use that version or a later one")
	ErrCut         = errors.New("it ends too early; copy it again, or write the record out again")
	ErrChanged     = errors.New("it was damaged or changed since it was written; copy it again, or write the record out again")
)

// longest is how long a line may be, bytes: a mark's note has room for 64 KiB, escaped at worst six times.
const longest = 1 << 20

// Read reads the longhand of a record, compressed or not, and hands everything in it to a sink as it comes. What the
// sink was given counts only if no error is returned: that the file is whole is known at its end.
func Read(ctx context.Context, from io.Reader, to Sink) (Count, error) {
	plain, err := unpacked(bufio.NewReader(from))
	if err != nil {
		return Count{}, err
	}
	r := &reader{in: bufio.NewReaderSize(plain, 64<<10), sum: sha256.New(), to: to, probes: map[string]bool{}, marks: map[int64]bool{}}
	for !r.done {
		if err := ctx.Err(); err != nil {
			return r.n, err
		}
		if err := r.next(ctx); err != nil {
			return r.n, err
		}
	}
	return r.n, r.nothingMore()
}

// unpacked undoes the compression, if there is any.
func unpacked(in *bufio.Reader) (io.Reader, error) {
	if magic, err := in.Peek(2); err != nil || magic[0] != 0x1f || magic[1] != 0x8b { // RFC 1952, 2.3.1
		return in, nil
	}
	z, err := gzip.NewReader(in)
	if err != nil {
		return nil, fmt.Errorf("uncompress: %w", why(err))
	}
	return z, nil
}

// why tells a file that was cut off from one that is damaged.
func why(err error) error {
	var corrupt flate.CorruptInputError
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return ErrCut
	case errors.Is(err, gzip.ErrChecksum), errors.Is(err, gzip.ErrHeader), errors.As(err, &corrupt):
		return fmt.Errorf("%w (%w)", ErrChanged, err)
	}
	return err
}

type reader struct {
	in     *bufio.Reader
	sum    hash.Hash // of every line up to here
	to     Sink
	row    int
	n      Count
	probes map[string]bool
	marks  map[int64]bool
	last   int64 // number of the last mark
	done   bool  // the end line has come
	buf    []byte
}

// next reads one line.
func (r *reader) next(ctx context.Context) error {
	text, err := r.text()
	if err != nil {
		return err
	}
	l, err := r.parse(text)
	if err == nil {
		err = r.take(ctx, l)
	}
	if err != nil {
		return fmt.Errorf("line %d: %w", r.row, err)
	}
	r.sum.Write(text)
	return nil
}

// text returns the next line with its end; it holds until the next call.
func (r *reader) text() ([]byte, error) {
	r.row++
	r.buf = r.buf[:0]
	for {
		part, err := r.in.ReadSlice('\n')
		r.buf = append(r.buf, part...)
		switch {
		case len(r.buf) > longest:
			return nil, fmt.Errorf("line %d: %w (it is longer than %d bytes)", r.row, r.strange(), longest)
		case err == nil:
			return r.buf, nil
		case errors.Is(err, bufio.ErrBufferFull):
		case r.row == 1 && errors.Is(err, io.EOF):
			return nil, ErrNotLonghand
		default:
			return nil, fmt.Errorf("line %d: %w", r.row, why(err))
		}
	}
}

// strange is what is wrong where a line makes no sense.
func (r *reader) strange() error {
	if r.row == 1 {
		return ErrNotLonghand
	}
	return ErrChanged
}

// parse makes sense of one line. Only the first may have members that are not known, so that a newer
// version can be told from a file of another kind.
func (r *reader) parse(text []byte) (l line, err error) {
	if err := sensors.CheckJSON(text); err != nil {
		return l, fmt.Errorf("%w (%w)", r.strange(), err)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	if r.row > 1 {
		d.DisallowUnknownFields()
	}
	switch err := d.Decode(&l); {
	case err == nil:
	case strings.HasPrefix(err.Error(), "json: unknown field"): // the package has no other way to tell
		return l, fmt.Errorf("%w (%w)", ErrNewer, err)
	default:
		return l, fmt.Errorf("%w (%w)", r.strange(), err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return l, fmt.Errorf("%w (there is something behind the object)", r.strange())
	}
	set := 0
	for _, has := range []bool{l.Header != nil, l.Probe != nil, l.Boot != nil, l.Shift != nil, l.Mark != nil, l.Reading != nil, l.End != nil} {
		if has {
			set++
		}
	}
	if set != 1 || (r.row == 1) != (l.Header != nil) {
		return l, r.strange()
	}
	return l, nil
}

func (r *reader) take(ctx context.Context, l line) error {
	switch {
	case l.Header != nil:
		return known(l.Header.Version)
	case l.Probe != nil:
		r.probes[l.Probe.Name] = true
		return r.to.PutProbe(ctx, l.Probe.Name)
	case l.Boot != nil:
		b := l.Boot
		return r.to.PutBoot(ctx, sensors.Boot{ID: b.ID, Zero: instant(b.Zero), First: instant(b.First), Trusted: b.Trusted})
	case l.Shift != nil:
		return r.shift(ctx, l.Shift)
	case l.Mark != nil:
		return r.mark(ctx, l.Mark.Mark())
	case l.Reading != nil:
		return r.reading(ctx, l.Reading.reading())
	}
	return r.end(l.End)
}

func known(version int) error {
	switch {
	case version > Version:
		return fmt.Errorf("version %d, known up to %d: %w", version, Version, ErrNewer)
	case version < 1:
		return ErrNotLonghand
	}
	return nil
}

func (r *reader) shift(ctx context.Context, s *shift) error {
	by := time.Duration(s.ByMS) * time.Millisecond
	if by.Milliseconds() != s.ByMS {
		return fmt.Errorf("%w (no clock can be %d ms off)", ErrChanged, s.ByMS)
	}
	return r.to.PutShift(ctx, sensors.Shift{Boot: s.Boot, From: instant(s.From), By: by})
}

func (r *reader) mark(ctx context.Context, m model.Mark) error {
	switch {
	case m.ID <= r.last:
		return fmt.Errorf("%w (mark %d does not come after mark %d)", ErrChanged, m.ID, r.last)
	case m.Corrects != 0 && !r.marks[m.Corrects]:
		return fmt.Errorf("%w (mark %d corrects mark %d, which does not come before it)", ErrChanged, m.ID, m.Corrects)
	}
	r.last, r.marks[m.ID] = m.ID, true
	r.n.Marks++
	return r.to.PutMark(ctx, m)
}

func (r *reader) reading(ctx context.Context, x sensors.Reading) error {
	switch {
	case !r.probes[x.Probe]:
		return fmt.Errorf("%w (probe %q is not listed above)", ErrChanged, x.Probe)
	case x != x.Rounded():
		return fmt.Errorf("%w (the value is finer than any that is recorded)", ErrChanged)
	}
	r.n.Readings++
	return r.to.PutReading(ctx, x)
}

func (r *reader) end(e *end) error {
	r.done = true
	if got := hex.EncodeToString(r.sum.Sum(nil)); got != e.SHA256 {
		return fmt.Errorf("%w (its checksum does not fit)", ErrChanged)
	}
	if r.n != (Count{e.Readings, e.Marks}) {
		return fmt.Errorf("%w (it holds %d readings and %d marks, and should hold %d and %d)", ErrChanged, r.n.Readings, r.n.Marks, e.Readings, e.Marks)
	}
	return nil
}

// nothingMore makes sure that the end is the end, and lets the decompressor check its sum.
func (r *reader) nothingMore() error {
	switch _, err := r.in.ReadByte(); {
	case errors.Is(err, io.EOF):
		return nil
	case err != nil:
		return fmt.Errorf("after the end line: %w", why(err))
	}
	return fmt.Errorf("%w (something comes after the end line)", ErrChanged)
}
