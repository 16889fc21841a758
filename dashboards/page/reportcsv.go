package page

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"pourward/model"
	"pourward/model/report"
)

// csvColumns are those of a report as CSV, in order. Instants are RFC 3339 with the shop's offset,
// temperatures °C, spans seconds, weights grams.
func csvColumns() []string {
	return []string{
		"row", "mark", "at", "entered", "step", "kind", "material", "standing", "earliest", "likely", "latest", "ended", "reasons",
		"min_c", "mean_c", "max_c", "measured_s", "missing_s",
		"state", "corrects", "lot", "weights", "note", "from_c", "to_c", "felt", "entered_by",
	}
}

// WriteReportCSV writes the report of a mold as one table (RFC 4180), a row for each thing: the mold itself,
// its marks, what was told, its steps as they came, its materials, and last what it felt, stretch by
// stretch. What a row has nothing to say of is empty.
func WriteReportCSV(w io.Writer, rep *report.Report, zone *time.Location) error {
	t := &csvTable{w: csv.NewWriter(w), zone: zone, cells: map[string]string{}}
	t.w.UseCRLF = true // RFC 4180, 2.1
	if err := t.w.Write(csvColumns()); err != nil {
		return fmt.Errorf("write the report: %w", err)
	}
	t.head(rep)
	for _, e := range rep.Marks {
		t.mark(e)
	}
	for _, told := range rep.Told {
		t.step("told", told.Step)
		t.instant("entered", told.Mark.Entered)
		t.set("mark", strconv.FormatInt(told.Mark.ID, 10))
		t.row()
	}
	for _, st := range rep.Steps {
		t.step("came", st.Step)
		t.warmth(st.Warmth)
		t.row()
	}
	for _, m := range rep.Materials {
		t.set("row", "material", "material", m.Name, "step", strings.Join(m.Of, "; "), "note", strings.Join(m.Sources, "; "))
		t.row()
	}
	for _, f := range rep.Felt {
		t.stretch(f)
	}
	t.w.Flush()
	if err := t.w.Error(); err != nil {
		return fmt.Errorf("write the report: %w", err)
	}
	return nil
}

// csvTable fills one row at a time.
type csvTable struct {
	w     *csv.Writer
	zone  *time.Location
	cells map[string]string
}

// set fills cells: column, text, column, text.
func (t *csvTable) set(pairs ...string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		t.cells[pairs[i]] = pairs[i+1]
	}
}

func (t *csvTable) instant(column string, at time.Time) {
	if !at.IsZero() {
		t.cells[column] = at.In(t.zone).Format("2006-01-02T15:04:05.999Z07:00")
	}
}

func (t *csvTable) number(column string, x float64) {
	if !math.IsNaN(x) {
		t.cells[column] = strconv.FormatFloat(x, 'f', 3, 64)
	}
}

// row writes what was filled; an error is kept by the writer.
func (t *csvTable) row() {
	columns := csvColumns()
	out := make([]string, len(columns))
	for i, c := range columns {
		out[i] = t.cells[c]
	}
	clear(t.cells)
	_ = t.w.Write(out)
}

func (t *csvTable) head(rep *report.Report) {
	m := &rep.Mold
	t.set("row", "mold", "step", m.Name, "kind", m.Title, "material", m.Rubber, "note", buildWords(rep.Begun.Build))
	t.instant("at", m.Begun)
	t.instant("ended", m.Demolded)
	t.warmth(report.WarmthOf(rep.Felt))
	t.row()
}

func (t *csvTable) mark(e report.Entry) {
	t.set("row", "mark", "mark", strconv.FormatInt(e.ID, 10), "kind", string(e.Kind), "material", e.Material, "state", string(e.State), "note", e.Note,
		"entered_by", e.EnteredBy, "lot", e.Batch.Lot, "weights", model.PortionsText(e.Batch.All()))
	if e.Kind == model.Checked {
		t.set("kind", fmt.Sprintf("checked: %s %s", e.Of, e.Found))
	}
	if e.Corrects != 0 {
		t.set("corrects", strconv.FormatInt(e.Corrects, 10))
	}
	t.instant("at", e.At)
	t.instant("entered", e.Entered)
	t.row()
}

func (t *csvTable) step(row string, s model.Step) {
	t.set("row", row, "mark", strconv.FormatInt(s.Mark, 10), "step", s.Name, "kind", string(s.Kind), "material", s.Material,
		"standing", string(s.Standing), "reasons", strings.Join(s.Why, "; "))
	t.instant("at", s.Begun)
	t.instant("earliest", s.Band.Earliest)
	t.instant("likely", s.Band.Likely)
	t.instant("latest", s.Band.Latest)
	t.instant("ended", s.Ended)
}

func (t *csvTable) warmth(w report.Warmth) {
	t.number("min_c", w.MinC)
	t.number("mean_c", w.MeanC)
	t.number("max_c", w.MaxC)
	t.number("measured_s", w.Measured.Seconds())
	t.number("missing_s", w.Missing.Seconds())
}

func (t *csvTable) stretch(f model.Stretch) {
	t.set("row", "felt", "felt", "air")
	t.instant("at", f.From)
	t.instant("ended", f.To)
	switch {
	case f.NotMeasured:
		t.set("felt", "not measured")
	default:
		if f.OnPattern {
			t.set("felt", "pattern")
		}
		t.number("from_c", f.FromC)
		t.number("to_c", f.ToC)
	}
	t.row()
}
