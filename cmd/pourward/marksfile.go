package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/dashboards/page"
	"pourward/model"
)

// markColumns are the columns a file of marks may have; at, mark and mold must be there.
func markColumns() []string {
	return []string{"at", "mark", "mold", "title", "place", "surface", "material", "of", "found", "note",
		"pattern", "pattern_mm", "rubber_mm", "shell", "shell_mm", "probe_in"}
}

// readMarks reads a CSV file of marks, one a row, in order of time.
func readMarks(path string, zone *time.Location) ([]model.Mark, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read marks: %w", err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	header, err := r.Read()
	if err == io.EOF {
		return nil, fmt.Errorf("read marks: %s is empty: its first line names the columns, such as at,mark,mold,place,material", path)
	}
	if err != nil {
		return nil, fmt.Errorf("read marks: %s: %w", path, err)
	}
	if err := checkHeader(header); err != nil {
		return nil, fmt.Errorf("read marks: %s:1: %w", path, err)
	}
	var out []model.Mark
	for {
		row, err := r.Read()
		if err == io.EOF {
			return inOrder(out), nil
		}
		if err != nil {
			return nil, fmt.Errorf("read marks: %s: %w", path, err)
		}
		m, err := markFrom(header, row, zone)
		if err != nil {
			line, _ := r.FieldPos(0)
			return nil, fmt.Errorf("read marks: %s:%d: %w", path, line, err)
		}
		out = append(out, m)
	}
}

func inOrder(marks []model.Mark) []model.Mark {
	slices.SortStableFunc(marks, func(a, b model.Mark) int { return a.At.Compare(b.At) })
	return marks
}

func checkHeader(header []string) error {
	for _, h := range header {
		if !slices.Contains(markColumns(), h) {
			return fmt.Errorf("there is no column %q; there are: %s", h, strings.Join(markColumns(), ", "))
		}
	}
	for _, must := range []string{"at", "mark", "mold"} {
		if !slices.Contains(header, must) {
			return fmt.Errorf("the column %q is missing", must)
		}
	}
	return nil
}

// markFrom reads one row.
func markFrom(header, row []string, zone *time.Location) (model.Mark, error) {
	cell := map[string]string{}
	for i, h := range header {
		cell[h] = strings.TrimSpace(row[i])
	}
	m := model.Mark{
		Mold: cell["mold"], Title: cell["title"], Place: cell["place"], Surface: cell["surface"], Material: cell["material"],
		Of: model.Subject(cell["of"]), Found: model.Finding(cell["found"]), Note: cell["note"],
	}
	m.Build.Pattern, m.Build.Shell, m.Build.ProbeIn = cell["pattern"], cell["shell"], cell["probe_in"]
	for column, to := range map[string]*float64{
		"pattern_mm": &m.Build.PatternMM, "rubber_mm": &m.Build.RubberMM, "shell_mm": &m.Build.ShellMM,
	} {
		if cell[column] == "" {
			continue
		}
		mm, err := strconv.ParseFloat(cell[column], 64)
		if err != nil {
			return m, fmt.Errorf("%q in column %s is no thickness in mm: write for example 12.5", cell[column], column)
		}
		*to = mm
	}
	var err error
	if m.Kind, err = model.ParseMarkKind(cell["mark"]); err != nil {
		return m, err
	}
	if !strings.ContainsAny(cell["at"], "-") {
		return m, fmt.Errorf("%q in column at is no date and time: write 2010-01-15 18:00", cell["at"])
	}
	m.At, err = page.ParseAt(cell["at"], time.Time{}, zone)
	return m, err
}
