package shelf

import (
	"strings"

	"pourward/cmd/pourward/internal/keyed"
	"pourward/model/material"
)

// group is a group of keys that says something of a material.
type group struct {
	*keyed.Group
	of *places
}

// places remembers where in the file the fields of one material stand.
type places struct {
	material keyed.Spot
	fields   map[string]keyed.Spot
}

// at is where a field stands: itself, what it is in, or the material.
func (p *places) at(field string) keyed.Spot {
	for field != "" {
		if at, ok := p.fields[field]; ok {
			return at
		}
		field = field[:max(0, strings.LastIndexByte(field, '.'))]
	}
	return p.material
}

func newPlaces(g *keyed.Group) *places { return &places{g.Node.At, map[string]keyed.Spot{}} }

// take reads the value of a key into a field of the material, called by its path, and reports what is
// wrong with it. It tells whether the key is there at all.
func take[T any](g *group, name, field string, w keyed.Want[T], into *T) bool {
	k := g.Find(name)
	if k == nil {
		return false
	}
	g.of.fields[field] = k.Value.At
	if v, ok := keyed.Read(g.Group, k, w); ok {
		*into = v
	}
	return true
}

// ask reads a value that must be there where it is required.
func ask[T any](g *group, required bool, name, field string, w keyed.Want[T], into *T) bool {
	there := take(g, name, field, w, into)
	if !there && required {
		g.Missing(name, w.Example)
	}
	return there
}

// need reads a value that must be there.
func need[T any](g *group, name, field string, w keyed.Want[T], into *T) {
	ask(g, true, name, field, w, into)
}

// sub opens the group at a key, nil when there is none that can be read. The field is what all of it
// goes into.
func (g *group) sub(name, field, example string) *group {
	var n *keyed.Node
	if !take(g, name, field, keyed.Like(keyed.GroupKind, "{"+example+"}"), &n) || n == nil {
		return nil
	}
	return &group{g.Reader.Group(g.Path(name), n), g.of}
}

// list opens the groups of the list at a key, each called one in messages.
func (g *group) list(name, one, field, example string) []*group {
	var n *keyed.Node
	if !take(g, name, field, keyed.Like(keyed.ListKind, "[{"+example+"}]"), &n) || n == nil {
		return nil
	}
	var out []*group
	for _, item := range g.Groups(n, one, "{"+example+"}") {
		out = append(out, &group{item, g.of})
	}
	return out
}

// place reports the faults of a material where its fields stand in the file. All of a layer window but
// its times is copied from the other events, where it is told once.
func (g *group) place(faults material.Faults) {
	for _, f := range faults {
		if !strings.HasPrefix(f.Field, "Layer") || strings.HasSuffix(f.Field, ".Ref") {
			g.Report(g.of.at(f.Field), f.What, f.Fix)
		}
	}
}
