package config

import "pourward/cmd/pourward/internal/keyed"

// group is a group of keys of the configuration.
type group struct {
	*keyed.Group
	dir  string // folder that relative paths start from
	void bool   // the group is missing or no group, which is reported: reading it finds nothing more
}

// required reads the value of key; without one it reports a problem and returns the zero T.
func required[T any](g *group, key string, w keyed.Want[T]) T {
	k := g.Find(key)
	if k == nil && !g.void {
		g.Missing(key, w.Example)
	}
	value, _ := keyed.Read(g.Group, k, w)
	return value
}

// optional reads the value of key, absent when the key is.
func optional[T any](g *group, key string, w keyed.Want[T], absent T) T {
	k := g.Find(key)
	if k == nil {
		return absent
	}
	value, _ := keyed.Read(g.Group, k, w)
	return value
}

// group opens the group at key. Without one it is void and a problem is reported.
func (g *group) group(key, example string) *group {
	if node := required(g, key, keyed.Like(keyed.GroupKind, example)); node != nil {
		return g.open(g.Path(key), node)
	}
	void := g.open(g.Path(key), &keyed.Node{At: g.At(key)})
	void.void = true
	return void
}

// optionalGroup opens the group at key, nil when there is none.
func (g *group) optionalGroup(key, example string) *group {
	if g.Find(key) == nil {
		return nil
	}
	return g.group(key, example)
}

// optionalList opens the groups of the list at key, none when there is none.
func (g *group) optionalList(key, name, example string) []*group {
	if g.Find(key) == nil {
		return nil
	}
	return g.list(key, name, example)
}

// list opens the groups of the list at key, each called name in messages.
func (g *group) list(key, name, example string) []*group {
	node := required(g, key, keyed.Like(keyed.ListKind, "["+example+"]"))
	if node == nil {
		return nil
	}
	var out []*group
	for _, item := range g.Groups(node, name, example) {
		out = append(out, &group{Group: item, dir: g.dir})
	}
	return out
}

func (g *group) open(name string, n *keyed.Node) *group {
	return &group{Group: g.Reader.Group(name, n), dir: g.dir}
}
