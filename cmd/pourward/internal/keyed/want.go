package keyed

import (
	"slices"
	"strconv"
	"strings"
)

// Want says how to read one kind of value and shows one. What [Want.Read] says against a value is best
// a [Wrong].
type Want[T any] struct {
	Example string
	Read    func(*Node) (T, error)
}

// IsNot says what stands where the wanted kind should.
func IsNot(n *Node, wanted Kind) *Wrong {
	switch n.Kind {
	case EmptyKind:
		return Wrongf("nothing is written here")
	case NumberKind, TruthKind:
		w := Wrongf("%s is %s, not %s", n.Text, n.Kind, wanted)
		if wanted == TextKind {
			return w.InsteadWrite(strconv.Quote(n.Text))
		}
		return w
	case TextKind:
		return Wrongf("%q is text, not %s", n.Text, wanted)
	}
	return Wrongf("this is %s, not %s", n.Kind, wanted)
}

// Like is a list or a group with something in it.
func Like(k Kind, example string) Want[*Node] {
	return Want[*Node]{example, func(n *Node) (*Node, error) {
		switch {
		case n.Kind != k:
			return nil, IsNot(n, k)
		case len(n.Keys)+len(n.Items) == 0:
			return nil, Wrongf("nothing is in it")
		}
		return n, nil
	}}
}

// Text is one line of text with something in it.
func Text(example string) Want[string] {
	return Want[string]{strconv.Quote(example), func(n *Node) (string, error) {
		switch {
		case n.Kind != TextKind:
			return "", IsNot(n, TextKind)
		case strings.TrimSpace(n.Text) == "":
			return "", Wrongf("the text is blank")
		case strings.ContainsAny(n.Text, "\r\n"):
			return "", Wrongf("the text has more than one line")
		}
		return n.Text, nil
	}}
}

// Then reads a value further.
func Then[A, B any](w Want[A], read func(A) (B, error)) Want[B] {
	return Want[B]{w.Example, func(n *Node) (b B, err error) {
		a, err := w.Read(n)
		if err != nil {
			return b, err
		}
		return read(a)
	}}
}

// Word is one of a few words.
func Word(example string, words []string) Want[string] {
	return Then(Text(example), func(s string) (string, error) {
		if slices.Contains(words, s) {
			return s, nil
		}
		w := Wrongf("%q is none of %s", s, strings.Join(words, ", "))
		if near := Nearest(s, words); near != "" {
			w.Example = strconv.Quote(near)
		}
		return "", w
	})
}

// Truth is true or false.
func Truth() Want[bool] {
	return Want[bool]{"true", func(n *Node) (bool, error) {
		if n.Kind != TruthKind {
			return false, IsNot(n, TruthKind)
		}
		return strings.EqualFold(n.Text, "true"), nil
	}}
}

// Written is a quantity with its unit. A number without one goes to parse as well, which knows best what
// it lacks.
func Written[T any](parse func(string) (T, error), example string) Want[T] {
	return Want[T]{strconv.Quote(example), func(n *Node) (v T, err error) {
		if n.Kind != TextKind && n.Kind != NumberKind {
			return v, IsNot(n, TextKind)
		}
		return parse(n.Text)
	}}
}

// SplitNumber cuts text after its sign, digits and point, and drops the space that follows. A minus
// sign proper (U+2212), as text editors set it, becomes the hyphen that strconv knows.
func SplitNumber(text string) (digits, rest string) {
	if after, ok := strings.CutPrefix(text, "−"); ok {
		text = "-" + after
	}
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("+-.0123456789", r) })
	if end < 0 {
		return text, ""
	}
	return text[:end], strings.TrimSpace(text[end:])
}
