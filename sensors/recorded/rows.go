package recorded

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/sensors"
)

// RowError is a row that cannot be understood.
type RowError struct {
	File   string
	Line   int    // of the file, the header is 1
	Column string // its header; "" when the whole row is wrong
	Cause  error
}

func (e *RowError) Error() string {
	where := ""
	if e.Column != "" {
		where = fmt.Sprintf(", column %q", e.Column)
	}
	return fmt.Sprintf("%s:%d%s: %v; correct the file, or skip bad rows", e.File, e.Line, where, e.Cause)
}

// Unwrap returns the cause.
func (e *RowError) Unwrap() error { return e.Cause }

// rows turns the table into readings.
type rows struct {
	opts   Options
	table  *csv.Reader
	header []string
	time   int // index of the column
	probes []columns
	last   time.Time // instant of the last good row
}

// columns are the indexes of one probe's columns, −1 for none.
type columns struct {
	Probe
	temp, humidity int
	judge          *sensors.Judge
}

func newRows(o Options, table *csv.Reader, header []string) (*rows, error) {
	r := &rows{opts: o, table: table, header: slices.Clone(header)}
	r.header[0] = strings.TrimPrefix(r.header[0], "\uFEFF") // spreadsheets put a byte order mark first
	var err error
	if r.time, err = r.index(o.TimeColumn); err != nil {
		return nil, err
	}
	for _, p := range o.Probes {
		c := columns{Probe: p, judge: sensors.NewJudge(p.Limits)}
		if c.temp, err = r.index(p.TempColumn); err != nil {
			return nil, err
		}
		if c.humidity, err = r.index(p.HumidityColumn); err != nil {
			return nil, err
		}
		r.probes = append(r.probes, c)
	}
	return r, nil
}

// index returns where a column is; −1 for one that is not named.
func (r *rows) index(column string) (int, error) {
	if column == "" {
		return -1, nil
	}
	if i := slices.Index(r.header, column); i >= 0 {
		return i, nil
	}
	return 0, fmt.Errorf("recorded file %q has no column %q; it has %s", r.opts.Path, column, strings.Join(r.header, ", "))
}

// next returns the readings of one row, io.EOF at the end of the file and a [*RowError] for a bad row.
func (r *rows) next() ([]sensors.Reading, error) {
	cells, err := r.table.Read()
	var broken *csv.ParseError
	switch {
	case errors.As(err, &broken):
		return nil, &RowError{File: r.opts.Path, Line: broken.Line, Cause: broken.Err}
	case err != nil:
		return nil, err
	case len(cells) != len(r.header):
		return nil, r.bad("", fmt.Errorf("the row has %d cells, the header %d", len(cells), len(r.header)))
	}
	at, err := r.instant(cells[r.time])
	if err != nil {
		return nil, r.bad(r.opts.TimeColumn, err)
	}
	samples, err := r.samples(cells)
	if err != nil {
		return nil, err
	}
	r.last = at
	return r.readings(at, samples), nil
}

func (r *rows) bad(column string, err error) error {
	line, _ := r.table.FieldPos(0)
	return &RowError{File: r.opts.Path, Line: line, Column: column, Cause: err}
}

func (r *rows) instant(text string) (time.Time, error) {
	at, err := parseTime(strings.TrimSpace(text), r.opts.TimeLayout, r.opts.Zone)
	switch {
	case err != nil:
		return at, err
	case !at.After(r.last) && !r.last.IsZero():
		return at, fmt.Errorf("%q is not after the row before", text)
	}
	return at, nil
}

// parseTime returns an instant on the grid of recorded readings. Years outside 1900 to 2200 are refused.
func parseTime(text, layout string, zone *time.Location) (time.Time, error) {
	var at time.Time
	if layout == Unix {
		seconds, err := strconv.ParseFloat(text, 64)
		if err != nil || math.Abs(seconds) > 1e11 {
			return at, fmt.Errorf("%q is not a number of seconds since 1970", text)
		}
		at = time.UnixMilli(int64(math.Round(seconds * 1000)))
	} else {
		if zone == nil {
			zone = time.UTC
		}
		var err error
		if at, err = time.ParseInLocation(layout, text, zone); err != nil {
			return at, fmt.Errorf("%q is not a time like %q", text, layout)
		}
	}
	at = time.UnixMilli(at.UnixMilli()).UTC()
	if y := at.Year(); y < 1900 || y > 2200 {
		return at, fmt.Errorf("%q is in the year %d", text, y)
	}
	return at, nil
}

// samples reads the cells of every probe before any is judged, so that a bad row leaves no trace.
func (r *rows) samples(cells []string) ([]sensors.Sample, error) {
	out := make([]sensors.Sample, len(r.probes))
	for i, p := range r.probes {
		temp, err := r.number(cells, p.temp)
		if err != nil {
			return nil, r.bad(p.TempColumn, err)
		}
		humidity, err := r.number(cells, p.humidity)
		if err != nil {
			return nil, r.bad(p.HumidityColumn, err)
		}
		if r.opts.TempUnit == Fahrenheit {
			temp = (temp - 32) / 1.8
		}
		if r.opts.HumidityUnit == Percent {
			humidity /= 100
		}
		out[i] = sensors.Sample{TempC: temp, Humidity: humidity}
	}
	return out, nil
}

// number returns the number in a cell, NaN when there is none.
func (r *rows) number(cells []string, i int) (float64, error) {
	if i < 0 {
		return math.NaN(), nil
	}
	text := strings.TrimSpace(cells[i])
	if text == "" || slices.Contains(r.opts.NoValue, text) {
		return math.NaN(), nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 1e6 {
		return 0, fmt.Errorf("%q is not a number that a probe can give", text)
	}
	return v, nil
}

// readings leaves out probes that have no value in the row.
func (r *rows) readings(at time.Time, samples []sensors.Sample) []sensors.Reading {
	out := make([]sensors.Reading, 0, len(samples))
	for i, s := range samples {
		if math.IsNaN(s.TempC) && math.IsNaN(s.Humidity) {
			continue
		}
		reading := sensors.Reading{Probe: r.probes[i].Name, At: at}
		if r.opts.Unjudged {
			reading.Temp, reading.Humidity = taken(s.TempC), taken(s.Humidity)
		} else {
			reading.Temp, reading.Humidity = r.probes[i].judge.Judge(at, s)
		}
		out = append(out, reading.Rounded())
	}
	return out
}

// taken is a value without judgement.
func taken(v float64) sensors.Measure {
	if math.IsNaN(v) {
		return sensors.Measure{}
	}
	return sensors.GoodMeasure(v)
}
