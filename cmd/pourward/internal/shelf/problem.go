package shelf

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"pourward/cmd/pourward/internal/config"
)

// reader gathers the problems of one file.
type reader struct {
	file     string // as the person named it, for messages
	problems config.Problems
}

func (r *reader) report(at spot, what, fix string) {
	r.problems = append(r.problems, config.Problem{File: r.file, Line: at.line, Column: at.column, What: what, Fix: fix})
}

// err gives the problems in the order of the file, nil when there are none.
func (r *reader) err() error {
	if len(r.problems) == 0 {
		return nil
	}
	slices.SortStableFunc(r.problems, func(a, b config.Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return r.problems
}

// wrong is why a value cannot stand, before it is known where in the file it is.
type wrong struct {
	what    string
	example string // a value to write instead; empty when the key's own example is the best one
}

func (w *wrong) Error() string { return w.what + writeEg + w.example }

func wrongf(format string, args ...any) *wrong { return &wrong{what: fmt.Sprintf(format, args...)} }

// writeEg is what stands between what is wrong and what to write, in errors of quantities too.
const writeEg = "; write e.g. "

// split cuts an error into what is wrong and what to write instead.
func split(err error, example string) (what, instead string) {
	what, instead, _ = strings.Cut(err.Error(), writeEg)
	if instead == "" {
		instead = example
	}
	return what, instead
}

// suggestion points from a key nobody knows to the one that was meant, or to all there are.
func suggestion(key string, known []string) string {
	if near := nearest(key, known); near != "" {
		return "did you mean " + near + "?"
	}
	return "known here: " + strings.Join(known, ", ")
}

// nearest returns the word that text was most likely meant to be, empty when none is close: at most one
// slip in three letters.
func nearest(text string, words []string) string {
	best, fewest := "", len(text)/3+1
	for _, w := range words {
		if n := slips(text, w); n < fewest {
			best, fewest = w, n
		}
	}
	return best
}

// slips counts the letters to add, drop or change to come from a to b: the distance of V. I. Levenshtein,
// Soviet Physics Doklady 10 (1966) 707.
func slips(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(row[j+1]+1, row[j]+1, change)
		}
	}
	return row[len(b)]
}
