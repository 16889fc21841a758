package config

import "fmt"

// named is a name somebody wrote, with where it stands.
type named struct {
	*group
	name string // empty when none was written
	at   spot
}

// named gives what is written at key, sound or not.
func (g *group) named(key string) named {
	for _, f := range g.node.fields {
		if f.key == key && f.value != nil && f.value.kind == textKind {
			return named{g, f.value.text, f.value.at}
		}
	}
	return named{group: g, at: g.node.at}
}

// reportTwins reports every name that was there before.
func reportTwins(all []named, what, fix string) {
	first := map[string]spot{}
	for _, n := range all {
		before, twice := first[n.name]
		switch {
		case n.name == "":
		case twice:
			n.report(n.at, fmt.Sprintf("%s %q is here a second time, first on line %d", what, n.name, before.line), fix)
		default:
			first[n.name] = n.at
		}
	}
}

// reportDangling reports every use of a name that is not declared.
func reportDangling(uses, declared []named) {
	var names []string
	known := map[string]bool{"": true}
	for _, d := range declared {
		if !known[d.name] {
			names = append(names, d.name)
		}
		known[d.name] = true
	}
	for _, u := range uses {
		if known[u.name] {
			continue
		}
		u.report(u.at, fmt.Sprintf("there is no place %q", u.name), suggestion(u.name, names))
	}
}
