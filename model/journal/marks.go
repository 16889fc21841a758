package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"pourward/model"
)

// AppendMark records a mark, as [model.Mark.Rounded] has it, and returns it with its ID. The mark is on
// the disk when it returns, and so are the readings that waited; if only they cannot be written, the
// mark goes in alone. A mark that already has an ID, or that corrects one not in the record, is refused.
func (j *Journal) AppendMark(ctx context.Context, m model.Mark) (model.Mark, error) {
	if m.ID != 0 {
		return m, fmt.Errorf("record mark %q: it is mark %d already; enter a correction instead", m, m.ID)
	}
	j.writing.Lock()
	defer j.writing.Unlock()
	if j.closed || j.write == nil {
		return m, fmt.Errorf("record mark %q in journal %s: %w", m, j.path, j.refusal())
	}
	if j.held != nil {
		return m, fmt.Errorf("record mark %q: %w", m, j.held)
	}
	row := markRow(m.Rounded())
	id, err := j.record(ctx, j.take(), &row)
	if err != nil && !unknownMark(err) && ctx.Err() == nil {
		id, err = j.record(ctx, batch{}, &row)
	}
	switch {
	case unknownMark(err):
		return m, fmt.Errorf("record mark %q: there is no mark %d to correct", m, m.Corrects)
	case err != nil:
		j.suspect = true
		return m, fmt.Errorf("record mark %q: %w", m, explain("write to", j.path, err))
	}
	row.ID, j.suspect = id, false
	return model.Mark(row), nil
}

func unknownMark(err error) bool {
	var failed *sqlite.Error
	return errors.As(err, &failed) && failed.Code() == sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY
}

// Marks returns all marks by ID. With a [DamageError] come all that are whole.
func (j *Journal) Marks(ctx context.Context) ([]model.Mark, error) {
	tx, err := j.read.BeginTx(ctx, nil)
	if err != nil {
		return nil, explain("read marks of", j.path, err)
	}
	defer tx.Rollback() // it only reads
	var marks []model.Mark
	damage := DamageError{Path: j.path}
	err = eachMark(ctx, tx, "true", nil, func(c checkedMark) {
		if c.whole {
			marks = append(marks, c.mark)
		} else {
			damage.Marks = append(damage.Marks, c.lost())
		}
	})
	if err != nil {
		return nil, explain("read marks of", j.path, err)
	}
	return without(damage.Marks, marks), damage.orNil()
}

// markColumns are the columns of a mark, in the order in which they are scanned.
func markColumns() []string {
	return []string{"id", "kind", "mold", "at_ms", "entered_ms", "corrects",
		"title", "place", "surface", "material", "subject", "finding", "note",
		"pattern", "pattern_mm", "rubber_mm", "shell", "shell_mm", "probe_in", "design", "face", "prep", "batch", "film_um", "entered_by"}
}

// markList is what to select for them.
func markList(columns []string) string {
	return strings.Replace(strings.Join(columns, ", "), "corrects", "coalesce(corrects, 0)", 1)
}

// markRow is a mark as a row of its table.
type markRow model.Mark

// insert records a mark, under its number where it has one, and returns the number.
func (m *markRow) insert(ctx context.Context, tx *sql.Tx) (int64, error) {
	id := sql.NullInt64{Int64: m.ID, Valid: m.ID != 0}
	corrects := sql.NullInt64{Int64: m.Corrects, Valid: m.Corrects != 0}
	design, err := packed(m.Design, m.Design == model.Design{})
	if err != nil {
		return 0, err
	}
	prep, err := packed(m.Prep, len(m.Prep) == 0)
	if err != nil {
		return 0, err
	}
	batch, err := packed(m.Batch, !m.Batch.Told())
	if err != nil {
		return 0, err
	}
	done, err := tx.ExecContext(ctx, `INSERT INTO marks (id, kind, mold, at_ms, entered_ms, corrects,
		title, place, surface, material, subject, finding, note,
		pattern, pattern_mm, rubber_mm, shell, shell_mm, probe_in, design, face, prep, batch, film_um, entered_by)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		id, m.Kind, m.Mold, m.At.UnixMilli(), m.Entered.UnixMilli(), corrects,
		m.Title, m.Place, m.Surface, m.Material, m.Of, m.Found, m.Note,
		m.Build.Pattern, m.Build.PatternMM, m.Build.RubberMM, m.Build.Shell, m.Build.ShellMM, m.Build.ProbeIn, design, m.Face, prep, batch, m.FilmUM, m.EnteredBy)
	if err != nil {
		return 0, err
	}
	given, err := done.LastInsertId()
	if err != nil {
		return 0, err
	}
	return given, sumMarks(ctx, tx, "id = ?", given)
}

// scan reads the columns of a mark; its checksum behind them is looked at elsewhere.
func (m *markRow) scan(rows *sql.Rows) error {
	var at, entered int64
	var crc any
	var design, prep, batch string
	err := rows.Scan(&m.ID, &m.Kind, &m.Mold, &at, &entered, &m.Corrects,
		&m.Title, &m.Place, &m.Surface, &m.Material, &m.Of, &m.Found, &m.Note,
		&m.Build.Pattern, &m.Build.PatternMM, &m.Build.RubberMM, &m.Build.Shell, &m.Build.ShellMM, &m.Build.ProbeIn, &design, &m.Face, &prep, &batch, &m.FilmUM, &m.EnteredBy, &crc)
	if err != nil {
		return err
	}
	m.At, m.Entered = time.UnixMilli(at).UTC(), time.UnixMilli(entered).UTC()
	return errors.Join(unpack(design, &m.Design), unpack(prep, &m.Prep), unpack(batch, &m.Batch))
}

// packed is what a column holds of something that may not have been told.
func packed(v any, untold bool) (string, error) {
	if untold {
		return "", nil
	}
	text, err := json.Marshal(v)
	return string(text), err
}

func unpack(text string, to any) error {
	if text == "" {
		return nil
	}
	return json.Unmarshal([]byte(text), to)
}
