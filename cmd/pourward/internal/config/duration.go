package config

import (
	"math"
	"strings"
	"time"
	"unicode"

	"pourward/cmd/pourward/internal/keyed"
)

const (
	longest      = 100 * 365 * 24 * time.Hour // beyond this a duration is a slip of the pen
	durationHint = `"10 s"`
)

// ParseDuration reads a length of time with its unit: "10 s", "5 min", "1 h 30 min", or joined as in
// "1h30m". A day is 24 h. It is never negative and at most 100 years.
func ParseDuration(text string) (time.Duration, error) {
	sum, before := time.Duration(0), longest
	for rest := strings.TrimSpace(text); ; {
		part, after := cutPart(rest)
		total, unit, err := durationPart(text, part, before)
		if err != nil {
			return 0, err
		}
		if sum += total; sum > longest {
			return 0, tooLong(text)
		}
		if after == "" {
			return sum, nil
		}
		before, rest = unit, after
	}
}

// durationPart reads the one number and unit of part; text is the whole, for the error, and before is
// the unit of the part ahead of it, which must be longer.
func durationPart(text, part string, before time.Duration) (total, unit time.Duration, err error) {
	number, name, err := quantity(part, "a length of time", 10, "s", "min")
	if err != nil {
		return 0, 0, err
	}
	unit = durationUnit(name)
	length := number * float64(unit)
	switch {
	case unit == 0:
		return 0, 0, keyed.Wrongf("%q: %q is no unit of time here", text, name).InsteadWrite(examples(number, "s", "min"))
	case number < 0:
		return 0, 0, keyed.Wrongf("%q is negative", text).InsteadWrite(durationHint)
	case length > float64(longest):
		return 0, 0, tooLong(text)
	case unit >= before:
		return 0, 0, keyed.Wrongf("%q: units go from long to short, each once", text).InsteadWrite(`"1 h 30 min"`)
	}
	return time.Duration(math.Round(length)), unit, nil
}

func tooLong(text string) error {
	return keyed.Wrongf("%q is longer than 100 years", text).InsteadWrite(durationHint)
}

// durationUnit gives the length of the named unit, 0 when there is none of that name.
func durationUnit(name string) time.Duration {
	switch name {
	case "d":
		return 24 * time.Hour
	case "h":
		return time.Hour
	case "min", "m":
		return time.Minute
	case "s":
		return time.Second
	case "ms":
		return time.Millisecond
	}
	return 0
}

// cutPart cuts text before the second number in it.
func cutPart(text string) (part, after string) {
	inUnit := false
	for i, r := range text {
		digit := r >= '0' && r <= '9'
		if digit && inUnit {
			return strings.TrimSpace(text[:i]), text[i:]
		}
		inUnit = inUnit || !digit && !unicode.IsSpace(r) && !strings.ContainsRune("+-−.,", r)
	}
	return text, ""
}
