package checkup

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"pourward/model/journal"
)

// checkRecord is how long the look at the record's structure may take.
const checkRecord = 30 * time.Second

// Record looks at the journal, for reading alone: a daemon that keeps it is not disturbed.
func Record(ctx context.Context, file string, zone *time.Location) Finding {
	_, err := os.Stat(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return ok("record", "%s is not there yet: the daemon makes it", file)
	case err != nil:
		return broken("record", "let the daemon's user read it", "%v", err)
	}
	text, err := readRecord(ctx, file, zone)
	switch {
	case errors.Is(err, journal.ErrOlder):
		return look("record", "start the daemon on it once, which brings it up to date; keep a copy until then", "%v", err)
	case errors.Is(err, journal.ErrDamaged):
		return broken("record", "pourward mend makes a journal of what is whole, and says what is lost", "%v", err)
	case err != nil:
		return broken("record", "nothing was changed: leave the file as it is until this is cleared up", "%v", err)
	}
	return ok("record", "%s is whole: %s", file, text)
}

func readRecord(ctx context.Context, file string, zone *time.Location) (text string, err error) {
	j, err := journal.Open(ctx, file, journal.Options{ReadOnly: true, CheckBudget: checkRecord})
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, j.Close(ctx)) }()
	marks, err := j.Marks(ctx)
	if err != nil {
		return "", err
	}
	_, last, err := j.Span(ctx)
	if err != nil {
		return "", err
	}
	if last.IsZero() {
		return fmt.Sprintf("no readings, marks: %d", len(marks)), nil
	}
	return fmt.Sprintf("readings until %s, marks: %d", last.In(zone).Format("Mon 2 Jan 2006 15:04"), len(marks)), nil
}
