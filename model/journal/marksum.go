package journal

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"hash"
	"hash/crc32"
	"math"
	"strings"
	"time"
	"unicode"

	"pourward/model"
)

// A mark on disk carries the CRC-32C of all it says, as a block does. SQLite looks at the structure of its pages
// and not at what their cells hold: a letter or an hour changed by a bad card passes its checks.

// sumOf is the checksum of a mark's row: of the name and value of each column that says something, so that a
// column added later, which says nothing in older rows, leaves theirs as it is.
func sumOf(columns []string, values []any) uint32 {
	h := crc32.New(crc32.MakeTable(crc32.Castagnoli))
	for i, name := range columns {
		switch v := values[i].(type) {
		case nil:
		case int64:
			addNumber(h, name, 'i', uint64(v))
		case float64:
			addNumber(h, name, 'f', math.Float64bits(v))
		case string:
			addText(h, name, 't', v)
		case []byte: // what no version writes
			addText(h, name, 'b', string(v))
		}
	}
	return h.Sum32()
}

func addNumber(h hash.Hash32, column string, kind byte, bits uint64) {
	if bits != 0 {
		addText(h, column, kind, string(binary.BigEndian.AppendUint64(nil, bits)))
	}
}

func addText(h hash.Hash32, column string, kind byte, value string) {
	if value == "" {
		return
	}
	b := append([]byte(column), 0, kind)
	b = binary.BigEndian.AppendUint64(b, uint64(len(value)))
	h.Write(append(b, value...)) // which never fails
}

// checkedMark is a mark as it was read, and whether it is as it was written.
type checkedMark struct {
	id    int64
	mark  model.Mark // as far as it can be read
	sum   uint32
	whole bool
}

// checkMark reads a row of the columns of a mark and of its checksum.
func checkMark(rows *sql.Rows) (c checkedMark, err error) {
	columns := markColumns()
	values := make([]any, len(columns)+1)
	into := make([]any, len(values))
	for i := range values {
		into[i] = &values[i]
	}
	if err := rows.Scan(into...); err != nil {
		return c, err
	}
	id, _ := values[0].(int64)
	crc, isNumber := values[len(columns)].(int64)
	c.id, c.sum = id, sumOf(columns, values[:len(columns)])
	var m markRow
	err = m.scan(rows)
	c.mark = model.Mark(m)
	c.whole = err == nil && isNumber && (crc == unchecked || crc == int64(c.sum))
	return c, nil
}

// lost is a mark that is not as it was written, with what it says now.
func (c checkedMark) lost() model.LostMark {
	out := model.LostMark{ID: c.id}
	if c.mark.Mold == "" && c.mark.Kind == "" {
		return out
	}
	text := fmt.Sprintf("%s, %s", c.mark, c.mark.At.Format(time.RFC3339))
	if c.mark.Note != "" {
		text += ", " + c.mark.Note
	}
	out.Reads = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(text, "?"))
	return out
}

// eachMark hands over marks with whether they are whole, by number.
func eachMark(ctx context.Context, tx *sql.Tx, where string, args []any, each func(checkedMark)) error {
	rows, err := tx.QueryContext(ctx, "SELECT "+markList(markColumns())+", crc FROM marks WHERE "+where+" ORDER BY id", args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		c, err := checkMark(rows)
		if err != nil {
			return err
		}
		each(c)
	}
	return rows.Err()
}

// sumMarks gives marks the checksum of what they say now.
func sumMarks(ctx context.Context, tx *sql.Tx, where string, args ...any) error {
	sums := map[int64]uint32{}
	if err := eachMark(ctx, tx, where, args, func(c checkedMark) { sums[c.id] = c.sum }); err != nil {
		return err
	}
	for id, sum := range sums {
		if _, err := tx.ExecContext(ctx, "UPDATE marks SET crc = ? WHERE id = ?", sum, id); err != nil {
			return err
		}
	}
	return nil
}

// sumOldMarks gives their checksum to marks that were written before there was one.
func sumOldMarks(ctx context.Context, conn *sql.Conn) error {
	var old bool
	if err := conn.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM marks WHERE crc = -1)").Scan(&old); err != nil || !old {
		return err
	}
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing after a commit
	if err := sumMarks(ctx, tx, "crc = -1"); err != nil {
		return err
	}
	return tx.Commit()
}

// without leaves out what a lost mark takes along: what corrects it stands for itself, and a withdrawal of it is
// fulfilled.
func without(lost []model.LostMark, marks []model.Mark) []model.Mark {
	gone := map[int64]bool{}
	for _, l := range lost {
		gone[l.ID] = true
	}
	stay := marks[:0]
	for _, m := range marks {
		if m.Corrects != 0 && gone[m.Corrects] {
			if m.Kind == model.Withdrawn {
				continue
			}
			m.Corrects = 0
		}
		stay = append(stay, m)
	}
	return stay
}
