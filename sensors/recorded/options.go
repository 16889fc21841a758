package recorded

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"pourward/sensors"
)

// TempUnit is the unit of a temperature column. The zero unit is none: it must be told.
type TempUnit uint8

// Units of temperature.
const (
	Celsius TempUnit = iota + 1
	Fahrenheit
)

// HumidityUnit is the unit of a humidity column. The zero unit is none: it must be told.
type HumidityUnit uint8

// Units of relative humidity.
const (
	Percent HumidityUnit = iota + 1
	Ratio
)

// Unix is the time layout for seconds since 1970, with or without decimals.
const Unix = "unix"

// Probe says which columns hold what one probe measured.
type Probe struct {
	Name           string // the maker's name, given to the readings
	TempColumn     string // "" when the file has none
	HumidityColumn string // "" when the file has none
	Limits         sensors.Limits
}

// Options describe a file.
type Options struct {
	Path   string    // of the file; it may be compressed with gzip
	Reader io.Reader // read instead of Path when not nil; Path is then only its name in messages

	Comma        rune           // between columns; a comma when zero
	TimeColumn   string         // header of the column with the instants
	TimeLayout   string         // as package time has it, or [Unix]
	Zone         *time.Location // of times written without one
	TempUnit     TempUnit
	HumidityUnit HumidityUnit
	Probes       []Probe
	NoValue      []string // texts that stand for "no value", besides an empty cell

	After       time.Time     // readings up to this instant, it included, are not delivered
	Clock       sensors.Clock // paces the delivery by the readings' instants; nil delivers at once
	SkipBadRows bool          // leave out rows that cannot be understood instead of stopping at them
	Unjudged    bool          // take every value as good that is a number; for records judged before
}

// check returns what is missing in the options.
func (o Options) check() error {
	var errs []error
	want := func(ok bool, what string) {
		if !ok {
			errs = append(errs, errors.New(what))
		}
	}
	temps, humidities := 0, 0
	for _, p := range o.Probes {
		want(p.Name != "", "a probe has no name")
		want(p.TempColumn != "" || p.HumidityColumn != "", fmt.Sprintf("probe %q has no column", p.Name))
		temps += len(p.TempColumn)
		humidities += len(p.HumidityColumn)
	}
	want(o.Path != "" || o.Reader != nil, "no path is given")
	want(len(o.Probes) > 0, "no probe is given")
	want(o.TimeColumn != "", "the time column is not named")
	want(o.TimeLayout != "", `the time layout is not given, such as "2006-01-02 15:04:05" or "unix"`)
	want(o.Zone != nil || hasZone(o.TimeLayout), "times without a zone need one, such as UTC or Europe/Prague")
	want(temps == 0 || o.TempUnit == Celsius || o.TempUnit == Fahrenheit, "the temperature unit is not given: degC or degF")
	want(humidities == 0 || o.HumidityUnit == Percent || o.HumidityUnit == Ratio, "the humidity unit is not given: percent or ratio")
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("read recorded file %q: %s", o.Path, strings.ReplaceAll(err.Error(), "\n", "; "))
	}
	return nil
}

// hasZone reports whether times of a layout name their zone by an offset.
func hasZone(layout string) bool {
	return layout == Unix || strings.Contains(layout, "Z07") || strings.Contains(layout, "-07")
}
