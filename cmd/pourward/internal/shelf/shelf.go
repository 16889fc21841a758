// Package shelf reads, checks and explains the YAML file in which a person writes down the materials on
// the shop's own shelf, from their data sheets.
package shelf

import (
	_ "embed"
	"errors"
	"fmt"
	"os"
	"slices"

	"pourward/model/material"
)

//go:embed example.yml
var example []byte

// Example returns a file that passes every check, with every key explained and products that do not exist.
func Example() []byte { return slices.Clone(example) }

// Load reads and checks the file at path. What is wrong in it comes as [config.Problems].
func Load(path string) ([]material.Material, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the materials: %w", err)
	}
	return Parse(path, data)
}

// Parse checks data, the text of the file called name, and returns its materials in the order of the
// file. Each passes [material.Material.Check]. The error is of type [config.Problems] and lists all that
// is wrong at once.
//
// A product written as like a generic class takes from it what a data sheet seldom states: activation
// energies, spreads, floors, cautions, each with the class's own source. It never takes a time from it.
func Parse(name string, data []byte) ([]material.Material, error) {
	r := &reader{file: name}
	var all []material.Material
	if root := r.tree(data); root != nil && root.kind != spoiled {
		all = r.materials(root)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return all, nil
}

const itemExample = `name: my-slow-rubber, title: "My slow rubber", like: platinum-slow, sheet: "issue of 2024", at: "23 °C", working_life: "35 min", demold: "6 h"`

func (r *reader) materials(root *node) []material.Material {
	if root.kind != groupKind {
		r.report(root.at, isNot(root, groupKind).what, "write e.g. materials: [{"+itemExample+"}]")
		return nil
	}
	g := &group{reader: r, node: root, of: &places{root.at, map[string]spot{}}}
	items := g.list("materials", "material", "materials", itemExample)
	if g.find("materials") == nil {
		g.missing("materials", "[{"+itemExample+"}]")
	}
	g.done()
	generic := material.Generic()
	first := map[string]spot{}
	var all []material.Material
	for _, item := range items {
		all = append(all, r.product(item, generic, first))
	}
	return all
}

// product reads one material. Values that are wrong in themselves are reported first; what they are to
// each other only where all of them could be read.
func (r *reader) product(g *group, generic *material.Shelf, first map[string]spot) material.Material {
	g.of = &places{g.node.at, map[string]spot{}}
	before := len(r.problems)
	m := g.read(generic)
	g.done()
	g.own(m.Name, generic, first)
	if len(r.problems) > before {
		return m
	}
	var faults material.Faults
	if errors.As(m.Check(), &faults) {
		r.place(faults, g.of)
	}
	return m
}

// own reports a name that something else has.
func (g *group) own(name string, generic *material.Shelf, first map[string]spot) {
	at := g.of.at("Name")
	before, twice := first[name]
	switch {
	case name == "":
	case twice:
		g.report(at, fmt.Sprintf("material %q is here a second time, first on line %d", name, before.line), "every material needs a name of its own")
	case slices.Contains(generic.Names(), name):
		g.report(at, fmt.Sprintf("%q is a built-in class", name), "give your product a name of its own, and write like: "+name)
	}
	if !twice {
		first[name] = at
	}
}
