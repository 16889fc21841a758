package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"

	"pourward/dashboards/page"
	"pourward/model"
)

// markColumns are the columns a file of marks may have; at, mark and mold must be there.
func markColumns() []string {
	return []string{"at", "mark", "mold", "title", "place", "surface", "material", "of", "found", "note",
		"pattern", "pattern_mm", "rubber_mm", "shell", "shell_mm", "probe_in",
		"face", "prep", "method", "coats", "layers", "layer_mm", "length_mm", "width_mm", "depth_mm", "pattern_ml", "area_cm2",
		"parts", "additives", "lot", "from", "film_um"}
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
	fields := url.Values{}
	for i, h := range header {
		fields.Set(h, row[i])
	}
	if at := fields.Get("at"); !strings.ContainsAny(at, "-") {
		return model.Mark{}, fmt.Errorf("%q in column at is no date and time: write 2010-01-15 18:00", at)
	}
	fields.Set("kind", fields.Get("mark"))
	m, err := page.ParseMark(fields, time.Time{}, zone)
	m.Entered = time.Time{}
	return m, err
}
