package config

import (
	"errors"
	"fmt"
	"slices"
)

// reader gathers the problems of one file.
type reader struct {
	file     string // as the person named it, for messages
	dir      string // folder that relative paths start from
	problems Problems
}

func (r *reader) report(at spot, what, fix string) {
	r.problems = append(r.problems, Problem{r.file, at.line, at.column, what, fix})
}

// group reads the keys of one group of the file. Asking for a key makes it a known one, so the code
// that reads a group is also the list of what may stand in it; done reports the rest.
type group struct {
	*reader
	name  string // in messages; empty for the file itself
	node  *node
	void  bool // the group is missing or no group, which is reported: reading it finds nothing more
	known []string
}

// want says how to read one kind of value and shows one.
type want[T any] struct {
	example string
	read    func(*node) (T, error)
}

// required reads the value of key; without one it reports a problem and returns the zero T.
func required[T any](g *group, key string, w want[T]) T {
	f := g.find(key)
	if f == nil {
		g.reportMissing(key, w.example)
	}
	return valueOf(g, f, w)
}

// optional reads the value of key, absent when the key is.
func optional[T any](g *group, key string, w want[T], absent T) T {
	f := g.find(key)
	if f == nil {
		return absent
	}
	return valueOf(g, f, w)
}

func valueOf[T any](g *group, f *field, w want[T]) (value T) {
	if f == nil || f.value == nil {
		return value
	}
	value, err := w.read(f.value)
	if err != nil {
		g.reportWrong(f, err, w.example)
	}
	return value
}

// find gives the field of key, nil when there is none, and makes the key a known one.
func (g *group) find(key string) *field {
	g.known = append(g.known, key)
	return g.look(key)
}

// look gives the field of key, nil when there is none.
func (g *group) look(key string) *field {
	for i := range g.node.fields {
		if f := &g.node.fields[i]; f.key == key {
			return f
		}
	}
	return nil
}

// at is where the value of key stands, or the group when there is none.
func (g *group) at(key string) spot {
	if f := g.look(key); f != nil && f.value != nil {
		return f.value.at
	}
	return g.node.at
}

// path names key in messages.
func (g *group) path(key string) string {
	if g.name == "" {
		return key
	}
	return g.name + "." + key
}

func (g *group) reportMissing(key, example string) {
	if g.void {
		return
	}
	owner := g.name
	if owner == "" {
		owner = "the file"
	}
	g.report(g.node.at, owner+" has no "+key, "write e.g. "+key+": "+example)
}

func (g *group) reportWrong(f *field, err error, example string) {
	var w *wrong
	if errors.As(err, &w) && w.example != "" {
		example = w.example
	}
	what := err.Error()
	if w != nil {
		what = w.what
	}
	g.report(f.value.at, g.path(f.key)+": "+what, "write e.g. "+f.key+": "+example)
}

// group opens the group at key. Without one it is void and a problem is reported.
func (g *group) group(key, example string) *group {
	if node := required(g, key, groupLike(example)); node != nil {
		return g.open(g.path(key), node)
	}
	return &group{reader: g.reader, name: g.path(key), node: &node{at: g.at(key)}, void: true}
}

// optionalGroup opens the group at key, nil when there is none.
func (g *group) optionalGroup(key, example string) *group {
	if g.find(key) == nil {
		return nil
	}
	return g.group(key, example)
}

// optionalList opens the groups of the list at key, none when there is none.
func (g *group) optionalList(key, name, example string) []*group {
	if g.find(key) == nil {
		return nil
	}
	return g.list(key, name, example)
}

// list opens the groups of the list at key, each called name in messages.
func (g *group) list(key, name, example string) []*group {
	node := required(g, key, listLike("["+example+"]"))
	if node == nil {
		return nil
	}
	var out []*group
	for _, item := range node.items {
		if item.kind != groupKind {
			g.report(item.at, name+": "+isNot(item, groupKind).what, "write e.g. - "+example)
			continue
		}
		out = append(out, g.open(name, item))
	}
	return out
}

func (r *reader) open(name string, n *node) *group {
	return &group{reader: r, name: name, node: n}
}

// done reports every key nobody asked for.
func (g *group) done() {
	known := slices.Compact(slices.Sorted(slices.Values(g.known)))
	for _, f := range g.node.fields {
		if slices.Contains(known, f.key) {
			continue
		}
		what := fmt.Sprintf("unknown key %q", f.key)
		if g.name != "" {
			what += " in " + g.name
		}
		g.report(f.at, what, suggestion(f.key, known))
	}
}
