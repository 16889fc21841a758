// Package keyed reads files that are groups of keys in YAML, strictly, and tells every problem with its place.
package keyed

import (
	"cmp"
	"slices"
)

// Form is what one kind of file may look like.
type Form struct {
	Deepest int    // values that may be one inside the other
	Example string // a key of the file with its value, for a file that is no group
	Quoted  string // text that needs its quotes, for a file that is no YAML
	OddKeys bool   // numbers, true, false and null are keys like any other
}

// Reader gathers the problems of one file.
type Reader struct {
	File     string // as the person named it, for messages
	Form     Form
	problems Problems
}

// Report adds a problem: what is wrong at a place, and what to do about it.
func (r *Reader) Report(at Spot, what, fix string) {
	r.problems = append(r.problems, Problem{r.File, at.Line, at.Column, what, fix})
}

// Faults counts the problems reported so far.
func (r *Reader) Faults() int { return len(r.problems) }

// Err gives the problems as [Problems] in the order of the file, nil when there are none.
func (r *Reader) Err() error {
	if len(r.problems) == 0 {
		return nil
	}
	slices.SortStableFunc(r.problems, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return r.problems
}

// Open reads the file's text and opens the group that it is. It returns nil when there is no use in
// looking further.
func (r *Reader) Open(data []byte) *Group {
	root := r.tree(data)
	switch {
	case root == nil || root.Kind == Spoiled:
		return nil
	case root.Kind != GroupKind:
		r.Report(root.At, IsNot(root, GroupKind).What, "write e.g. "+r.Form.Example)
		return nil
	}
	return r.Group("", root)
}

// Group opens a group that is called name in messages; the file itself has no name.
func (r *Reader) Group(name string, n *Node) *Group { return &Group{Reader: r, Name: name, Node: n} }
