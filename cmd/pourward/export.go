package main

import (
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"pourward/model"
	"pourward/model/journal"
	"pourward/model/longhand"
	"pourward/sensors"
)

const exportAbout = `Writes everything that a journal holds as text, one JSON object a line: readings, marks, probes, and under
which clock they were recorded. A daemon may keep the journal meanwhile; what it has not made safe yet is not
in. pourward import reads the file in again to the last bit.`

func export(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("export", "", exportAbout, errs)
	var from journalFlags
	from.register(fs)
	to := fs.String("o", "", "`file` to write, compressed where its name ends in .gz; standard output if left out")
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	j, err := from.open(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = j.Close(ctx) }() // it was only read
	whole := &wholeRecord{Journal: j}
	var n longhand.Count
	err = writeFile(*to, out, func(w io.Writer) (err error) {
		n, err = longhand.Write(ctx, w, whole, time.Now())
		return err
	})
	if err != nil {
		return err
	}
	if *to != "" {
		fmt.Fprintf(out, "%s holds %s and %s\n", *to, several(int(n.Readings), "reading"), several(int(n.Marks), "mark"))
	}
	if whole.damage != nil {
		return fmt.Errorf("written out is everything that can be read, but not all there was: %w", whole.damage)
	}
	return nil
}

// wholeRecord hands over the readings and marks that can be read, and keeps what is to be said of the others.
type wholeRecord struct {
	*journal.Journal
	damage error
}

// Marks implements [longhand.Source].
func (w *wholeRecord) Marks(ctx context.Context) ([]model.Mark, error) {
	marks, err := w.Journal.Marks(ctx)
	return marks, w.note(err)
}

// Readings implements [longhand.Source].
func (w *wholeRecord) Readings(ctx context.Context, from, to time.Time, yield func(sensors.Reading) error) error {
	return w.note(w.Journal.Readings(ctx, from, to, yield))
}

// note keeps damage; any other error stays.
func (w *wholeRecord) note(err error) error {
	var damage *journal.DamageError
	if !errors.As(err, &damage) {
		return err
	}
	w.damage = errors.Join(w.damage, damage)
	return nil
}

// writeFile writes to a file that gets its name once it is complete, compressed where the name ends in
// .gz; to out where no name is given.
func writeFile(name string, out io.Writer, write func(io.Writer) error) error {
	if name == "" {
		return write(out)
	}
	f, err := os.CreateTemp(filepath.Dir(name), filepath.Base(name)+".*")
	if err != nil {
		return fmt.Errorf("-o: %w; the folder must exist", err)
	}
	defer func() { _ = os.Remove(f.Name()) }() // it is gone already when all went well
	err = compressed(name, f, write)
	if err == nil {
		err = errors.Join(f.Chmod(0o644), f.Sync())
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

func compressed(name string, f io.Writer, write func(io.Writer) error) error {
	if !strings.HasSuffix(name, ".gz") {
		return write(f)
	}
	z := gzip.NewWriter(f)
	if err := write(z); err != nil {
		return err
	}
	return z.Close()
}

const importAbout = `Reads a record that was written out into a new journal. The journal appears once everything is in; a file
that is damaged or cut short changes nothing.`

func restore(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("import", " FILE", importAbout, errs)
	to := fs.String("journal", "", "`file` of the new journal")
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	if *to == "" {
		return errors.New("-journal: name the file of the new journal")
	}
	f, err := os.Open(fs.Arg(0))
	if err != nil {
		return err
	}
	defer f.Close()
	var n longhand.Count
	err = journal.Restore(ctx, *to, journal.Options{}, func(r *journal.Restored) (err error) {
		if n, err = longhand.Read(ctx, f, r); err != nil {
			return fmt.Errorf("read %s: %w", fs.Arg(0), err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "%s holds %s and %s\n", *to, several(int(n.Readings), "reading"), several(int(n.Marks), "mark"))
	return nil
}
