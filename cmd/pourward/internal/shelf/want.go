package shelf

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/config"
	"pourward/cmd/pourward/internal/keyed"
)

// texts is a list of lines.
func texts(example string) keyed.Want[[]string] {
	one, many := keyed.Text(example), keyed.Like(keyed.ListKind, "["+strconv.Quote(example)+"]")
	return keyed.Want[[]string]{Example: many.Example, Read: func(n *keyed.Node) ([]string, error) {
		if _, err := many.Read(n); err != nil {
			return nil, err
		}
		var out []string
		for _, item := range n.Items {
			line, err := one.Read(item)
			if err != nil {
				what, _ := keyed.Split(err, "")
				return nil, keyed.Wrongf("item %d: %s", len(out)+1, what)
			}
			out = append(out, line)
		}
		return out, nil
	}}
}

// choice is one of a few words.
func choice[T any](example string, words []string, value func(string) T) keyed.Want[T] {
	return keyed.Then(keyed.Word(example, words), func(word string) (T, error) { return value(word), nil })
}

// number is a number without a unit.
func number(example string) keyed.Want[float64] {
	return keyed.Want[float64]{Example: example, Read: func(n *keyed.Node) (float64, error) {
		if n.Kind != keyed.NumberKind {
			return 0, keyed.IsNot(n, keyed.NumberKind)
		}
		v, err := strconv.ParseFloat(n.Text, 64)
		if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
			return 0, keyed.Wrongf("%s is no plain number", n.Text)
		}
		return v, nil
	}}
}

func temp(example string) keyed.Want[float64] {
	return keyed.Written(func(s string) (float64, error) {
		t, err := config.ParseTemp(s)
		return float64(t), err
	}, example)
}

func percent(example string) keyed.Want[float64] {
	return keyed.Written(func(s string) (float64, error) {
		r, err := config.ParsePercent(s)
		return float64(r), err
	}, example)
}

func duration(example string) keyed.Want[time.Duration] {
	return keyed.Written(func(s string) (time.Duration, error) {
		d, err := config.ParseDuration(s)
		if err == nil && d == 0 { // would state nothing
			return 0, keyed.Wrongf("%q is no time at all", s)
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
func density(example string) keyed.Want[float64] {
	return above0(example, unit{"g/mL", 1}, unit{"g/ml", 1}, unit{"g/cm³", 1}, unit{"g/cm3", 1}, unit{"kg/L", 1}, unit{"kg/l", 1}, unit{"kg/m³", 1e-3}, unit{"kg/m3", 1e-3})
}

// energy is in J/mol; the thermochemical calorie is 4.184 J (NIST SP 811 (2008), B.8).
func energy(example string) keyed.Want[float64] {
	return above0(example, unit{"kJ/mol", 1000}, unit{"kcal/mol", 4184})
}

// heat is in J/(g K).
func heat(example string) keyed.Want[float64] {
	return above0(example, unit{"J/(g K)", 1}, unit{"kJ/(kg K)", 1}, unit{"J/(kg K)", 1e-3})
}

// film is in µm, however its first letter is written; a mil is 25.4 µm (NIST SP 811 (2008), B.8).
func film(example string) keyed.Want[float64] {
	return above0(example, unit{"µm", 1}, unit{"μm", 1}, unit{"um", 1}, unit{"mil", 25.4}, unit{"mm", 1000})
}

// above0 is a number above 0 with one of a few units.
func above0(example string, units ...unit) keyed.Want[float64] {
	return keyed.Written(func(s string) (float64, error) {
		digits, name := keyed.SplitNumber(s)
		v, err := strconv.ParseFloat(digits, 64)
		i := slices.IndexFunc(units, func(u unit) bool { return u.name == name })
		switch {
		case err != nil || !(v > 0) || math.IsInf(v*1e6, 0) || !(v*1e-6 > 0):
			return 0, keyed.Wrongf("%q is no number above 0 with its unit", s)
		case strings.HasPrefix(name, ","):
			return 0, keyed.Wrongf("%q has a decimal comma", s).InsteadWrite(strconv.Quote(strings.Replace(s, ",", ".", 1)))
		case i < 0:
			return 0, keyed.Wrongf("%q is not in %s", s, units[0].name).InsteadWrite(strconv.Quote(digits + " " + units[0].name))
		}
		return v * units[i].factor, nil
	}, example)
}

// date is a day as 2006-01-02.
func date(example string) keyed.Want[time.Time] {
	return keyed.Written(func(s string) (time.Time, error) {
		d, err := time.Parse(time.DateOnly, s)
		if err != nil {
			return time.Time{}, keyed.Wrongf("%q is no day as year-month-day", s)
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
