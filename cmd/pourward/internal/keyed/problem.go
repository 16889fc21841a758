package keyed

import (
	"errors"
	"fmt"
	"strings"
)

// Problem is one thing wrong in the file, and what to write instead.
type Problem struct {
	File         string
	Line, Column int    // from 1; columns count characters, not bytes
	What         string // what is wrong, on which key
	Fix          string // what to do about it
}

func (p Problem) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s; %s", p.File, p.Line, p.Column, p.What, p.Fix)
}

// Problems are all that were found in a file, in the order of the file.
type Problems []Problem

// Error gives one line a problem.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the problems one by one, for errors.As.
func (ps Problems) Unwrap() []error {
	errs := make([]error, len(ps))
	for i, p := range ps {
		errs[i] = p
	}
	return errs
}

// Wrong is why a value cannot stand, before it is known where in the file it is.
type Wrong struct {
	What    string
	Example string // a value to write instead; empty when the key's own example is the best one
}

func (w *Wrong) Error() string { return w.What + "; write e.g. " + w.Example }

// Wrongf says what is wrong with a value.
func Wrongf(format string, args ...any) *Wrong { return &Wrong{What: fmt.Sprintf(format, args...)} }

// InsteadWrite names a value that would do.
func (w *Wrong) InsteadWrite(example string) *Wrong {
	w.Example = example
	return w
}

// Split takes an error apart into what is wrong and what to write instead: the example, unless the error
// is a [Wrong] that has a better one.
func Split(err error, example string) (what, instead string) {
	var w *Wrong
	switch {
	case !errors.As(err, &w):
		return err.Error(), example
	case w.Example != "":
		return w.What, w.Example
	}
	return w.What, example
}
