package network

import (
	"fmt"
	"strconv"
	"strings"
)

// path leads to a value inside a JSON text.
type path []step

// step goes down one level: to a member of an object, or to an element of an array.
type step struct {
	key   string
	index int // −1: by key
}

const (
	mostSteps = 32    // deeper than any message of a probe
	mostIndex = 65535 // more elements than fit into a message
)

// CheckPath says what is wrong with the path of a [Field], if anything. Members are parted by dots,
// elements of arrays stand in brackets and count from 0: sensors[0].temp. A backslash before a dot, a
// bracket or a backslash takes it as part of a name. The path "." is the whole message.
func CheckPath(text string) error {
	_, err := parsePath(text)
	return err
}

func parsePath(text string) (path, error) {
	if text == "." {
		return nil, nil
	}
	var p path
	for rest := text; ; {
		var s step
		var err error
		if strings.HasPrefix(rest, "[") {
			s, rest, err = indexStep(rest)
		} else {
			s, rest, err = keyStep(rest)
		}
		if err != nil {
			return nil, fmt.Errorf("path %q: %w", text, err)
		}
		if p = append(p, s); len(p) > mostSteps {
			return nil, fmt.Errorf("path %q: it has more than %d steps", text, mostSteps)
		}
		switch {
		case rest == "":
			return p, nil
		case rest[0] == '.' && (len(rest) == 1 || rest[1] != '['):
			rest = rest[1:]
		case rest[0] != '[':
			return nil, fmt.Errorf("path %q: after a step comes a dot or a bracket, not %.10q", text, rest)
		}
	}
}

// indexStep takes [n] from the beginning of a text.
func indexStep(text string) (step, string, error) {
	digits, rest, closed := strings.Cut(text[1:], "]")
	n, err := strconv.ParseUint(digits, 10, 16)
	if err != nil || !closed {
		return step{}, "", fmt.Errorf("in brackets comes a number from 0 to %d, as in [0], not %.10q", mostIndex, text)
	}
	return step{index: int(n)}, rest, nil
}

// keyStep takes a name from the beginning of a text.
func keyStep(text string) (step, string, error) {
	var key strings.Builder
	i := 0
	for ; i < len(text) && text[i] != '.' && text[i] != '['; i++ {
		if text[i] == '\\' {
			if i++; i == len(text) || !strings.ContainsRune(`.[\`, rune(text[i])) {
				return step{}, "", fmt.Errorf(`after a backslash comes a dot, a bracket or a backslash`)
			}
		}
		key.WriteByte(text[i])
	}
	if i == 0 {
		return step{}, "", fmt.Errorf("a name is missing")
	}
	return step{key: key.String(), index: -1}, text[i:], nil
}

// String is the inverse of parsePath.
func (p path) String() string {
	if len(p) == 0 {
		return "."
	}
	escape := strings.NewReplacer(`\`, `\\`, `.`, `\.`, `[`, `\[`)
	var b strings.Builder
	for i, s := range p {
		switch {
		case s.index >= 0:
			fmt.Fprintf(&b, "[%d]", s.index)
			continue
		case i > 0:
			b.WriteByte('.')
		}
		b.WriteString(escape.Replace(s.key))
	}
	return b.String()
}

// find returns what stands in a decoded JSON text at the path. What is not there, and null, is not found.
func (p path) find(doc any) (any, bool) {
	for _, s := range p {
		switch at := doc.(type) {
		case map[string]any:
			if s.index >= 0 {
				return nil, false
			}
			doc = at[s.key]
		case []any:
			if s.index < 0 || s.index >= len(at) {
				return nil, false
			}
			doc = at[s.index]
		default:
			return nil, false
		}
	}
	return doc, doc != nil
}
