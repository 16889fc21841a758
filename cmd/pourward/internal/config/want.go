package config

import (
	"cmp"
	"maps"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/keyed"
)

// matching is text of a given form; what says which one, for the message.
func matching(form *regexp.Regexp, what, example string) keyed.Want[string] {
	return keyed.Then(keyed.Text(example), func(s string) (string, error) {
		if !form.MatchString(s) {
			return "", keyed.Wrongf("%q is not %s", s, what)
		}
		return s, nil
	})
}

// slug is a short name that is safe in a path, a metric's label and a command line.
func slug(example string) keyed.Want[string] {
	return matching(regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,30}$`),
		"a short name: 1 to 31 of a-z, 0-9 and -, not beginning with -", example)
}

// measured is a quantity written with its unit, between low and high.
func measured[T cmp.Ordered](parse func(string) (T, error), example string, low, high T, limits string) keyed.Want[T] {
	return keyed.Written(func(s string) (T, error) {
		v, err := parse(s)
		if err == nil && (v < low || v > high) {
			err = keyed.Wrongf("%q is outside %s", s, limits)
		}
		return v, err
	}, example)
}

func duration(example string, low, high time.Duration, limits string) keyed.Want[time.Duration] {
	return measured(ParseDuration, example, low, high, limits)
}

// choice is one of a few words.
func choice[T any](example string, words map[string]T) keyed.Want[T] {
	known := slices.Sorted(maps.Keys(words))
	return keyed.Then(keyed.Word(example, known), func(s string) (T, error) { return words[s], nil })
}

func tempUnitWord() keyed.Want[TempUnit] {
	return keyed.Then(keyed.Text(string(Celsius)), func(s string) (TempUnit, error) {
		if u := tempUnit(s); u != "" {
			return u, nil
		}
		return "", keyed.Wrongf(`%q is neither "°C" nor "°F"`, s)
	})
}

// zone is a time zone of the IANA database, or the board's own.
func zone() keyed.Want[*time.Location] {
	return keyed.Then(keyed.Text("Europe/Brussels"), func(s string) (*time.Location, error) {
		if s == "local" {
			return time.Local, nil
		}
		loc, err := time.LoadLocation(s)
		if err != nil || s == "Local" {
			return nil, keyed.Wrongf(`%q is neither a zone of the IANA database, as Area/City, nor "local"`, s)
		}
		return loc, nil
	})
}

// path is a file or folder; a relative one starts from dir.
func path(dir, example string) keyed.Want[string] {
	return keyed.Then(keyed.Text(example), func(s string) (string, error) {
		switch {
		case strings.HasPrefix(s, "~"):
			return "", keyed.Wrongf("%q: ~ has no meaning here, the path must be whole", s)
		case strings.ContainsRune(s, 0):
			return "", keyed.Wrongf("%q holds a zero byte", s)
		case filepath.IsAbs(s):
			return filepath.Clean(s), nil
		}
		return filepath.Join(dir, s), nil
	})
}

// absolute is a path that means the same wherever the file lies.
func absolute(example string) keyed.Want[string] {
	return keyed.Then(path("", example), func(s string) (string, error) {
		if !filepath.IsAbs(s) {
			return "", keyed.Wrongf("%q does not begin with /", s)
		}
		return s, nil
	})
}

// pace is how fast a record is played back, as a multiple of real time.
func pace() keyed.Want[float64] {
	const slowest, fastest = 1e-3, 1e6
	words := choice("real", map[string]float64{"real": 1, "as fast as it goes": math.Inf(1)})
	return keyed.Want[float64]{Example: words.Example, Read: func(n *keyed.Node) (float64, error) {
		if n.Kind != keyed.NumberKind {
			return words.Read(n)
		}
		v, err := strconv.ParseFloat(n.Text, 64)
		if err != nil || !(v >= slowest && v <= fastest) {
			return 0, keyed.Wrongf("%s is no pace between 0.001 and 1000000 times real time", n.Text).InsteadWrite("60")
		}
		return v, nil
	}}
}
