package shelf

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/config"
)

// isNot says what stands where the wanted kind should.
func isNot(n *node, wanted kind) *wrong {
	switch n.kind {
	case emptyKind:
		return wrongf("nothing is written here")
	case numberKind, truthKind:
		w := wrongf("%s is %s, not %s", n.text, n.kind, wanted)
		if wanted == textKind {
			w.example = strconv.Quote(n.text)
		}
		return w
	case textKind:
		return wrongf("%q is text, not %s", n.text, wanted)
	}
	return wrongf("this is %s, not %s", n.kind, wanted)
}

// like is a list or a group with something in it.
func like(k kind, example string) want[*node] {
	return want[*node]{example, func(n *node) (*node, error) {
		switch {
		case n.kind != k:
			return nil, isNot(n, k)
		case len(n.keys)+len(n.items) == 0:
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

// texts is a list of lines.
func texts(example string) want[[]string] {
	one, many := text(example), like(listKind, "["+strconv.Quote(example)+"]")
	return want[[]string]{many.example, func(n *node) ([]string, error) {
		if _, err := many.read(n); err != nil {
			return nil, err
		}
		var out []string
		for _, item := range n.items {
			line, err := one.read(item)
			if err != nil {
				what, _ := split(err, "")
				return nil, wrongf("item %d: %s", len(out)+1, what)
			}
			out = append(out, line)
		}
		return out, nil
	}}
}

// choice is one of a few words.
func choice[T any](example string, words []string, value func(string) T) want[T] {
	w := text(example)
	return want[T]{w.example, func(n *node) (v T, err error) {
		word, err := w.read(n)
		if err != nil {
			return v, err
		}
		if !slices.Contains(words, word) {
			w := wrongf("%q is none of %s", word, strings.Join(words, ", "))
			if near := nearest(word, words); near != "" {
				w.example = strconv.Quote(near)
			}
			return v, w
		}
		return value(word), nil
	}}
}

func truth() want[bool] {
	return want[bool]{"true", func(n *node) (bool, error) {
		if n.kind != truthKind {
			return false, isNot(n, truthKind)
		}
		return strings.EqualFold(n.text, "true"), nil
	}}
}

// number is a number without a unit.
func number(example string) want[float64] {
	return want[float64]{example, func(n *node) (float64, error) {
		if n.kind != numberKind {
			return 0, isNot(n, numberKind)
		}
		v, err := strconv.ParseFloat(n.text, 64)
		if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
			return 0, wrongf("%s is no plain number", n.text)
		}
		return v, nil
	}}
}

// written is a quantity with its unit.
func written[T any](parse func(string) (T, error), example string) want[T] {
	return want[T]{strconv.Quote(example), func(n *node) (v T, err error) {
		if n.kind != textKind && n.kind != numberKind {
			return v, isNot(n, textKind)
		}
		return parse(n.text)
	}}
}

func temp(example string) want[float64] {
	return written(func(s string) (float64, error) {
		t, err := config.ParseTemp(s)
		return float64(t), err
	}, example)
}

func percent(example string) want[float64] {
	return written(func(s string) (float64, error) {
		r, err := config.ParsePercent(s)
		return float64(r), err
	}, example)
}

func duration(example string) want[time.Duration] {
	return written(func(s string) (time.Duration, error) {
		d, err := config.ParseDuration(s)
		if err == nil && d == 0 { // would state nothing
			return 0, wrongf("%q is no time at all", s)
		}
		return d, err
	}, example)
}

// unit is a unit that data sheets use, and what it is in the first of its kind.
type unit struct {
	name   string
	factor float64
}

// density is in g/mL.
func density(example string) want[float64] {
	return above0(example, unit{"g/mL", 1}, unit{"g/ml", 1}, unit{"g/cm³", 1}, unit{"g/cm3", 1}, unit{"kg/L", 1}, unit{"kg/l", 1}, unit{"kg/m³", 1e-3}, unit{"kg/m3", 1e-3})
}

// energy is in J/mol; the thermochemical calorie is 4.184 J (NIST SP 811 (2008), B.8).
func energy(example string) want[float64] {
	return above0(example, unit{"kJ/mol", 1000}, unit{"kcal/mol", 4184})
}

// heat is in J/(g K).
func heat(example string) want[float64] {
	return above0(example, unit{"J/(g K)", 1}, unit{"kJ/(kg K)", 1}, unit{"J/(kg K)", 1e-3})
}

// film is in µm, however its first letter is written; a mil is 25.4 µm (NIST SP 811 (2008), B.8).
func film(example string) want[float64] {
	return above0(example, unit{"µm", 1}, unit{"μm", 1}, unit{"um", 1}, unit{"mil", 25.4}, unit{"mm", 1000})
}

// above0 is a number above 0 with one of a few units.
func above0(example string, units ...unit) want[float64] {
	return written(func(s string) (float64, error) {
		end := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("+-.0123456789", r) })
		if end < 0 {
			end = len(s)
		}
		digits, name := s[:end], strings.TrimSpace(s[end:])
		v, err := strconv.ParseFloat(digits, 64)
		i := slices.IndexFunc(units, func(u unit) bool { return u.name == name })
		switch {
		case err != nil || !(v > 0) || math.IsInf(v*1e6, 0) || !(v*1e-6 > 0):
			return 0, wrongf("%q is no number above 0 with its unit", s)
		case strings.HasPrefix(name, ","):
			return 0, &wrong{fmt.Sprintf("%q has a decimal comma", s), strconv.Quote(strings.Replace(s, ",", ".", 1))}
		case i < 0:
			return 0, &wrong{fmt.Sprintf("%q is not in %s", s, units[0].name), strconv.Quote(digits + " " + units[0].name)}
		}
		return v * units[i].factor, nil
	}, example)
}

// date is a day as 2006-01-02.
func date(example string) want[time.Time] {
	return written(func(s string) (time.Time, error) {
		d, err := time.Parse(time.DateOnly, s)
		if err != nil {
			return time.Time{}, wrongf("%q is no day as year-month-day", s)
		}
		return d, nil
	}, example)
}

// indexed is the path of an item of a list field.
func indexed(field string, i int) string { return fmt.Sprintf("%s.%d", field, i) }

// words gives the words of a kind of text.
func words[T ~string](all []T) []string {
	out := make([]string, len(all))
	for i, one := range all {
		out[i] = string(one)
	}
	return out
}
