package config

import (
	"cmp"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// isNot says what stands where the wanted kind should.
func isNot(n *node, wanted kind) *wrong {
	switch n.kind {
	case emptyKind:
		return wrongf("nothing is written here")
	case numberKind, truthKind:
		w := wrongf("%s is %s, not %s", n.text, n.kind, wanted)
		if wanted == textKind {
			return w.insteadWrite(strconv.Quote(n.text))
		}
		return w
	case textKind:
		return wrongf("%q is text, not %s", n.text, wanted)
	}
	return wrongf("this is %s, not %s", n.kind, wanted)
}

func groupLike(example string) want[*node] { return nodeLike(groupKind, example) }

func listLike(example string) want[*node] { return nodeLike(listKind, example) }

func nodeLike(k kind, example string) want[*node] {
	return want[*node]{example, func(n *node) (*node, error) {
		switch {
		case n.kind != k:
			return nil, isNot(n, k)
		case len(n.fields)+len(n.items) == 0:
			return nil, wrongf("nothing is in it")
		}
		return n, nil
	}}
}

// text is one line of text with something in it.
func text(example string) want[string] {
	return want[string]{strconv.Quote(example), func(n *node) (string, error) {
		switch {
		case n.kind != textKind:
			return "", isNot(n, textKind)
		case strings.TrimSpace(n.text) == "":
			return "", wrongf("the text is blank")
		case strings.ContainsAny(n.text, "\r\n"):
			return "", wrongf("the text has more than one line")
		}
		return n.text, nil
	}}
}

// then reads a value further.
func then[A, B any](w want[A], read func(A) (B, error)) want[B] {
	return want[B]{w.example, func(n *node) (b B, err error) {
		a, err := w.read(n)
		if err != nil {
			return b, err
		}
		return read(a)
	}}
}

// matching is text of a given form; what says which one, for the message.
func matching(form *regexp.Regexp, what, example string) want[string] {
	return then(text(example), func(s string) (string, error) {
		if !form.MatchString(s) {
			return "", wrongf("%q is not %s", s, what)
		}
		return s, nil
	})
}

// slug is a short name that is safe in a path, a metric's label and a command line.
func slug(example string) want[string] {
	return matching(regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,30}$`),
		"a short name: 1 to 31 of a-z, 0-9 and -, not beginning with -", example)
}

// measured is a quantity written with its unit, between low and high.
func measured[T cmp.Ordered](parse func(string) (T, error), example string, low, high T, limits string) want[T] {
	return want[T]{strconv.Quote(example), func(n *node) (T, error) {
		if n.kind != textKind && n.kind != numberKind {
			return *new(T), isNot(n, textKind)
		}
		v, err := parse(n.text)
		if err == nil && (v < low || v > high) {
			err = wrongf("%q is outside %s", n.text, limits)
		}
		return v, err
	}}
}

func duration(example string, low, high time.Duration, limits string) want[time.Duration] {
	return measured(ParseDuration, example, low, high, limits)
}

// choice is one of a few words.
func choice[T any](example string, words map[string]T) want[T] {
	return then(text(example), func(s string) (T, error) {
		v, ok := words[s]
		if ok {
			return v, nil
		}
		known := make([]string, 0, len(words))
		for w := range words {
			known = append(known, w)
		}
		slices.Sort(known)
		w := wrongf("%q is none of %s", s, strings.Join(known, ", "))
		if near := nearest(s, known); near != "" {
			w.example = strconv.Quote(near)
		}
		return v, w
	})
}

func tempUnitWord() want[TempUnit] {
	return then(text(string(Celsius)), func(s string) (TempUnit, error) {
		if u := tempUnit(s); u != "" {
			return u, nil
		}
		return "", wrongf(`%q is neither "°C" nor "°F"`, s)
	})
}

func truth() want[bool] {
	return want[bool]{"true", func(n *node) (bool, error) {
		if n.kind != truthKind {
			return false, isNot(n, truthKind)
		}
		return strings.EqualFold(n.text, "true"), nil
	}}
}

// zone is a time zone of the IANA database, or the board's own.
func zone() want[*time.Location] {
	return then(text("Europe/Brussels"), func(s string) (*time.Location, error) {
		if s == "local" {
			return time.Local, nil
		}
		loc, err := time.LoadLocation(s)
		if err != nil || s == "Local" {
			return nil, wrongf(`%q is neither a zone of the IANA database, as Area/City, nor "local"`, s)
		}
		return loc, nil
	})
}

// path is a file or folder; a relative one starts from dir.
func path(dir, example string) want[string] {
	return then(text(example), func(s string) (string, error) {
		switch {
		case strings.HasPrefix(s, "~"):
			return "", wrongf("%q: ~ has no meaning here, the path must be whole", s)
		case strings.ContainsRune(s, 0):
			return "", wrongf("%q holds a zero byte", s)
		case filepath.IsAbs(s):
			return filepath.Clean(s), nil
		}
		return filepath.Join(dir, s), nil
	})
}

// absolute is a path that means the same wherever the file lies.
func absolute(example string) want[string] {
	return then(path("", example), func(s string) (string, error) {
		if !filepath.IsAbs(s) {
			return "", wrongf("%q does not begin with /", s)
		}
		return s, nil
	})
}

// pace is how fast a record is played back, as a multiple of real time.
func pace() want[float64] {
	const slowest, fastest = 1e-3, 1e6
	words := choice("real", map[string]float64{"real": 1, "as fast as it goes": math.Inf(1)})
	return want[float64]{words.example, func(n *node) (float64, error) {
		if n.kind != numberKind {
			return words.read(n)
		}
		v, err := strconv.ParseFloat(n.text, 64)
		if err != nil || !(v >= slowest && v <= fastest) {
			return 0, wrongf("%s is no pace between 0.001 and 1000000 times real time", n.text).insteadWrite("60")
		}
		return v, nil
	}}
}
