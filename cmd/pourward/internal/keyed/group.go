package keyed

import (
	"fmt"
	"slices"
)

// Group reads the keys of one group of the file. Finding a key makes it a known one, so the code that
// reads a group is also the list of what may stand in it; [Group.Done] reports the rest.
type Group struct {
	*Reader
	Name  string // in messages; empty for the file itself
	Node  *Node
	known []string
}

// Find gives the key called name, nil when there is none, and makes it a known one.
func (g *Group) Find(name string) *Key {
	g.Know(name)
	return g.Look(name)
}

// Look gives the key called name, nil when there is none.
func (g *Group) Look(name string) *Key {
	for i := range g.Node.Keys {
		if k := &g.Node.Keys[i]; k.Name == name {
			return k
		}
	}
	return nil
}

// Know makes name one that may stand in the group.
func (g *Group) Know(name string) { g.known = append(g.known, name) }

// At is where the value of a key stands, or the group when there is none that can be read.
func (g *Group) At(name string) Spot {
	if k := g.Look(name); k != nil && k.Value.Kind != Spoiled {
		return k.Value.At
	}
	return g.Node.At
}

// Path names a key in messages.
func (g *Group) Path(name string) string {
	if g.Name == "" {
		return name
	}
	return g.Name + "." + name
}

// Read reads the value of k, one of the group's keys or nil. It reports what is wrong with the value; ok
// tells that there is one and that nothing is.
func Read[T any](g *Group, k *Key, w Want[T]) (value T, ok bool) {
	if k == nil || k.Value.Kind == Spoiled {
		return value, false
	}
	value, err := w.Read(k.Value)
	if err != nil {
		what, instead := Split(err, w.Example)
		g.Report(k.Value.At, g.Path(k.Name)+": "+what, "write e.g. "+k.Name+": "+instead)
	}
	return value, err == nil
}

// Missing reports that the group lacks a key.
func (g *Group) Missing(name, example string) {
	owner := g.Name
	if owner == "" {
		owner = "the file"
	}
	g.Report(g.Node.At, owner+" has no "+name, "write e.g. "+name+": "+example)
}

// Groups opens the groups of a list, each called name in messages, and reports what is none. The example
// is one of them.
func (g *Group) Groups(list *Node, name, example string) []*Group {
	var out []*Group
	for _, item := range list.Items {
		switch item.Kind {
		case Spoiled:
		case GroupKind:
			out = append(out, g.Group(name, item))
		default:
			g.Report(item.At, name+": "+IsNot(item, GroupKind).What, "write e.g. - "+example)
		}
	}
	return out
}

// Done reports every key nobody asked for.
func (g *Group) Done() {
	known := slices.Compact(slices.Sorted(slices.Values(g.known)))
	for _, k := range g.Node.Keys {
		if slices.Contains(known, k.Name) {
			continue
		}
		what := fmt.Sprintf("unknown key %q", k.Name)
		if g.Name != "" {
			what += " in " + g.Name
		}
		g.Report(k.At, what, Suggestion(k.Name, known))
	}
}
