package journal

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"pourward/model"
)

// A rescue journal is a whole journal of its own, beside one that cannot be used. It begins with a copy of
// all that is whole of that one, so marks keep their numbers and corrections what they correct.

// RescueOf is the name of the nth rescue journal of a journal, from 1 on.
func RescueOf(path string, n int) string { return fmt.Sprintf("%s.rescue-%d", path, n) }

// Rescues lists the rescue journals that lie beside a journal, the first one first; none where the folder
// cannot be looked into.
func Rescues(path string) []string {
	full, err := resolve(path)
	if err != nil {
		return nil
	}
	var out []string
	for {
		next := RescueOf(full, len(out)+1)
		if _, err := os.Stat(next); err != nil {
			return out
		}
		out = append(out, next)
	}
}

// openRescue opens the last rescue journal, or a new one where there is none that can be used, and tells
// what of the journal and its earlier rescues could not be read.
func openRescue(ctx context.Context, path string, opts Options) (*Journal, salvage, error) {
	full, err := resolve(path)
	if err != nil {
		return nil, salvage{}, fmt.Errorf("open journal %s: %w; the folder must exist", path, err)
	}
	beside := Rescues(full)
	if n := len(beside); n > 0 {
		last := beside[n-1]
		j, err := Open(ctx, last, opts)
		if err == nil {
			s, err := j.survey(ctx, append([]string{full}, beside[:n-1]...))
			return j, s, err
		}
		if !lasting(err) {
			return nil, salvage{}, err
		}
	}
	next := RescueOf(full, len(beside)+1)
	var s salvage
	err = Restore(ctx, next, opts, func(r *Restored) (err error) {
		s, err = r.j.salvage(ctx, append([]string{full}, beside...), 0)
		return err
	})
	if err != nil {
		return nil, s, err
	}
	j, err := Open(ctx, next, opts)
	return j, s, err
}

// lasting reports whether a file stays as it cannot be used, however long one waits.
func lasting(err error) bool {
	return errors.Is(err, ErrDamaged) || errors.Is(err, ErrNewer) || errors.Is(err, ErrNotJournal)
}

// salvage is what came of reading files that could not be used.
type salvage struct {
	loss
	blank bool // none of them could be read at all
}

// salvage copies what is whole of some files into an empty journal. The one kept last comes last.
func (j *Journal) salvage(ctx context.Context, files []string, hour int64) (salvage, error) {
	s := salvage{blank: true}
	for _, path := range slices.Backward(files) {
		w, err := openWreck(ctx, path)
		if err != nil {
			if ctx.Err() != nil {
				return s, ctx.Err()
			}
			j.opts.Log.Warn("nothing can be read of it", "path", filepath.Base(path), "why", err)
			continue
		}
		err = errors.Join(j.takeIn(ctx, w, hour), w.close())
		if err != nil {
			return s, err
		}
		s.add(w)
	}
	return s, j.found(ctx, &s)
}

// found strikes from a loss the hours and the marks that another file still had.
func (j *Journal) found(ctx context.Context, s *salvage) error {
	var lost []Damage
	for _, d := range s.hours {
		var n int
		err := j.write.QueryRowContext(ctx, "SELECT count(*) FROM blocks WHERE id = (? << 16 | (SELECT id FROM probes WHERE name = ?))",
			hourOf(d.Hour.UnixMilli()), d.Probe).Scan(&n)
		if err != nil {
			return explain("read", j.path, err)
		}
		if n == 0 {
			lost = append(lost, d)
		}
	}
	s.hours = lost
	if len(s.changed) == 0 {
		return nil
	}
	have, err := j.Marks(ctx)
	s.changed = slices.DeleteFunc(s.changed, func(c checkedMark) bool {
		return slices.ContainsFunc(have, func(m model.Mark) bool { return m.ID == c.id && same(m, c.mark) })
	})
	return err
}

// survey tells what of some files cannot be read, and the rescue journal that was made of them has not
// either. It copies nothing.
func (j *Journal) survey(ctx context.Context, files []string) (salvage, error) {
	s := salvage{blank: true}
	for _, path := range files {
		w, err := openWreck(ctx, path)
		if err != nil {
			continue // the rescue journal has what there is
		}
		err = errors.Join(w.readNames(ctx), w.marks(ctx, func(model.Mark) error { return nil }),
			w.blocks(ctx, 0, func(place, []byte, []sample) error { return nil }), w.tail(ctx, 0, func(sample) {}), w.close())
		if err != nil {
			return s, err
		}
		s.add(w)
	}
	return s, j.found(ctx, &s)
}

// add notes what came of reading one file.
func (s *salvage) add(w *wreck) {
	s.blank = false
	s.hours, s.marks, s.more = append(s.hours, w.loss.hours...), s.marks+w.loss.marks, s.more || w.loss.more
	s.changed = append(s.changed, w.loss.changed...)
}
