package material

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Fault is one value of a material that cannot be.
type Fault struct {
	Material string // its name
	Field    string // the field of [Material], with dots: "Demold.Ref", "Mixing.Parts.1.Ratio"
	What     string // what cannot be
	Fix      string // what to do
}

func (f Fault) Error() string {
	return fmt.Sprintf("material %q: %s; %s", f.Material, f.What, f.Fix)
}

// Faults are all that [Material.Check] found.
type Faults []Fault

// Error gives one line a fault.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the faults one by one, for errors.As.
func (fs Faults) Unwrap() []error {
	errs := make([]error, len(fs))
	for i, f := range fs {
		errs[i] = f
	}
	return errs
}

// checker gathers the faults of one material.
type checker struct {
	of     string
	faults Faults
}

func (c *checker) fault(field, what, fix string) {
	c.faults = append(c.faults, Fault{c.of, field, what, fix})
}

// number wants v from low to high. A NaN is outside.
func (c *checker) number(field, what string, v, low, high float64, unit string) bool {
	if v >= low && v <= high {
		return true
	}
	c.fault(field, fmt.Sprintf("%s of %s cannot be", what, amount(v, unit)),
		fmt.Sprintf("give one from %s to %s", amount(low, unit), amount(high, unit)))
	return false
}

// optional wants v to be 0 or, where it is stated, above 0 up to high.
func (c *checker) optional(field, what string, v, high float64, unit string) bool {
	if v >= 0 && v <= high {
		return true
	}
	c.fault(field, fmt.Sprintf("%s of %s cannot be", what, amount(v, unit)),
		fmt.Sprintf("give one above 0 to %s, or none", amount(high, unit)))
	return false
}

// time wants a length of time from 0, which states nothing, to longest.
func (c *checker) time(field, what string, v, longest time.Duration) bool {
	if v >= 0 && v <= longest {
		return true
	}
	c.fault(field, fmt.Sprintf("%s of %s cannot be", what, span(v)),
		fmt.Sprintf("give one above 0 to %s, or none", span(longest)))
	return false
}

// source wants a number's source; from is the field of it.
func (c *checker) source(from, what string, s Source) {
	switch s.Status {
	case DataSheet, Published, Practice, Assumption:
	case "":
		c.fault(from, what+" names no source", "say where it is from, were it an assumption")
	default:
		c.fault(from, fmt.Sprintf("%s has a source of status %q", what, s.Status),
			fmt.Sprintf("choose one of %q, %q, %q, %q", DataSheet, Published, Practice, Assumption))
	}
}

// window wants a range of temperature from lowC to highC, or none.
func (c *checker) window(field, what string, w Window, lowC, highC float64) bool {
	switch {
	case w == Window{}:
		return false
	case !c.number(field, what, w.MinC, lowC, highC, "°C") || !c.number(field, what, w.MaxC, lowC, highC, "°C"):
		return false
	case w.MinC >= w.MaxC:
		c.fault(field, fmt.Sprintf("%s from %s to %s is no range", what, degrees(w.MinC), degrees(w.MaxC)), "give the colder limit first")
		return false
	}
	return true
}

// amount writes a number with its unit, as people read it.
func amount(v float64, unit string) string {
	switch unit {
	case "°C":
		return degrees(v)
	case "%":
		return plain(v*100) + " %"
	case "kJ/mol":
		return plain(v/1000) + " kJ/mol"
	case "":
		return plain(v)
	}
	return plain(v) + " " + unit
}

// plain writes a number to six figures, without an exponent where it is not out of all measure.
func plain(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

func degrees(tempC float64) string {
	return fmt.Sprintf("%s °C (%s °F)", plain(tempC), plain(tempC*9/5+32))
}

// span writes a length of time in the largest unit that gives it whole; days from three on.
func span(d time.Duration) string {
	switch {
	case d%day == 0 && d.Abs() >= 3*day:
		return fmt.Sprintf("%d d", d/day)
	case d%time.Hour == 0:
		return fmt.Sprintf("%d h", d/time.Hour)
	case d%time.Minute == 0:
		return fmt.Sprintf("%d min", d/time.Minute)
	case d%time.Second == 0:
		return fmt.Sprintf("%d s", d/time.Second)
	}
	return d.String()
}
