package config

import (
	"cmp"
	"fmt"
	"slices"
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

// Problems are all that [Parse] found, in the order of the file.
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

// sort puts the problems in the order of the file.
func (ps Problems) sort() {
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}

// wrong is why a value cannot stand, before it is known where in the file it is.
type wrong struct {
	what    string
	example string // a value to write instead; empty when the key's own example is the best one
}

func (w *wrong) Error() string { return w.what + "; write e.g. " + w.example }

func wrongf(format string, args ...any) *wrong { return &wrong{what: fmt.Sprintf(format, args...)} }

// insteadWrite names a value that would do.
func (w *wrong) insteadWrite(example string) *wrong {
	w.example = example
	return w
}
