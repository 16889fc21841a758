package shelf

import (
	"fmt"
	"slices"
	"strings"

	"pourward/model/material"
)

// group reads the keys of one group of the file. Asking for a key makes it a known one, so the code
// that reads a group is also the list of what may stand in it; done reports the rest.
type group struct {
	*reader
	name  string // in messages; empty for the file itself
	node  *node
	known []string
	of    *places
}

// places remembers where in the file the fields of one material stand.
type places struct {
	material spot
	fields   map[string]spot
}

// at is where a field stands: itself, what it is in, or the material.
func (p *places) at(field string) spot {
	for field != "" {
		if at, ok := p.fields[field]; ok {
			return at
		}
		field = field[:max(0, strings.LastIndexByte(field, '.'))]
	}
	return p.material
}

// want says how to read one kind of value and shows one.
type want[T any] struct {
	example string
	read    func(*node) (T, error)
}

// take reads the value of a key into a field of the material, called by its path, and reports what is
// wrong with it. It tells whether the key is there at all.
func take[T any](g *group, name, field string, w want[T], into *T) bool {
	k := g.find(name)
	if k == nil {
		return false
	}
	g.of.fields[field] = k.value.at
	if k.value.kind == spoiled {
		return true
	}
	v, err := w.read(k.value)
	if err != nil {
		what, instead := split(err, w.example)
		g.report(k.value.at, g.path(name)+": "+what, "write e.g. "+name+": "+instead)
		return true
	}
	*into = v
	return true
}

// ask reads a value that must be there where it is required.
func ask[T any](g *group, required bool, name, field string, w want[T], into *T) bool {
	there := take(g, name, field, w, into)
	if !there && required {
		g.missing(name, w.example)
	}
	return there
}

// need reads a value that must be there.
func need[T any](g *group, name, field string, w want[T], into *T) {
	ask(g, true, name, field, w, into)
}

func (g *group) missing(name, example string) {
	owner := g.name
	if owner == "" {
		owner = "the file"
	}
	g.report(g.node.at, owner+" has no "+name, "write e.g. "+name+": "+example)
}

func (g *group) find(name string) *key {
	g.known = append(g.known, name)
	for i := range g.node.keys {
		if k := &g.node.keys[i]; k.name == name {
			return k
		}
	}
	return nil
}

// path names a key in messages.
func (g *group) path(name string) string {
	if g.name == "" {
		return name
	}
	return g.name + "." + name
}

// sub opens the group at a key, nil when there is none that can be read. The field is what all of it
// goes into.
func (g *group) sub(name, field, example string) *group {
	var n *node
	if !take(g, name, field, like(groupKind, "{"+example+"}"), &n) || n == nil {
		return nil
	}
	return &group{reader: g.reader, name: g.path(name), node: n, of: g.of}
}

// list opens the groups of the list at a key, each called one in messages.
func (g *group) list(name, one, field, example string) []*group {
	var n *node
	if !take(g, name, field, like(listKind, "[{"+example+"}]"), &n) || n == nil {
		return nil
	}
	var out []*group
	for _, item := range n.items {
		switch item.kind {
		case spoiled:
		case groupKind:
			out = append(out, &group{reader: g.reader, name: one, node: item, of: g.of})
		default:
			g.report(item.at, one+": "+isNot(item, groupKind).what, "write e.g. - {"+example+"}")
		}
	}
	return out
}

// done reports every key nobody asked for.
func (g *group) done() {
	known := slices.Compact(slices.Sorted(slices.Values(g.known)))
	for _, k := range g.node.keys {
		if slices.Contains(known, k.name) {
			continue
		}
		what := fmt.Sprintf("unknown key %q", k.name)
		if g.name != "" {
			what += " in " + g.name
		}
		g.report(k.at, what, suggestion(k.name, known))
	}
}

// place reports the faults of a material where its fields stand in the file. All of a layer window but
// its times is copied from the other events, where it is told once.
func (r *reader) place(faults material.Faults, p *places) {
	for _, f := range faults {
		if !strings.HasPrefix(f.Field, "Layer") || strings.HasSuffix(f.Field, ".Ref") {
			r.report(p.at(f.Field), f.What, f.Fix)
		}
	}
}
