// Package shelf reads, checks and explains the YAML file in which a person writes down the materials on
// the shop's own shelf, from their data sheets.
package shelf

import (
	_ "embed"
	"errors"
	"fmt"
	"os"
	"slices"

	"pourward/cmd/pourward/internal/keyed"
	"pourward/model/material"
)

//go:embed example.yml
var example []byte

// Example returns a file that passes every check, with every key explained and products that do not exist.
func Example() []byte { return slices.Clone(example) }

// Load reads and checks the file at path. What is wrong in it comes as [keyed.Problems].
func Load(path string) ([]material.Material, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the materials: %w", err)
	}
	return Parse(path, data)
}

// Parse checks data, the text of the file called name, and returns its materials in the order of the
// file. Each passes [material.Material.Check]. The error is of type [keyed.Problems] and lists all that
// is wrong at once.
//
// A product written as like a generic class takes from it what a data sheet seldom states: activation
// energies, spreads, floors, cautions, each with the class's own source. It never takes a time from it.
func Parse(name string, data []byte) ([]material.Material, error) {
	r := &keyed.Reader{File: name, Form: keyed.Form{Deepest: 16, Example: "materials: [{" + itemExample + "}]", Quoted: `"2 %"`}}
	var all []material.Material
	if root := r.Open(data); root != nil {
		all = materials(&group{root, newPlaces(root)})
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return all, nil
}

const itemExample = `name: my-slow-rubber, title: "My slow rubber", like: platinum-slow, sheet: "issue of 2024", at: "23 °C", working_life: "35 min", demold: "6 h"`

func materials(g *group) []material.Material {
	items := g.list("materials", "material", "materials", itemExample)
	if g.Find("materials") == nil {
		g.Missing("materials", "[{"+itemExample+"}]")
	}
	g.Done()
	generic := material.Generic()
	first := map[string]keyed.Spot{}
	var all []material.Material
	for _, item := range items {
		all = append(all, item.product(generic, first))
	}
	return all
}

// product reads one material. Values that are wrong in themselves are reported first; what they are to
// each other only where all of them could be read.
func (g *group) product(generic *material.Shelf, first map[string]keyed.Spot) material.Material {
	g.of = newPlaces(g.Group)
	before := g.Faults()
	m := g.read(generic)
	g.Done()
	g.own(m.Name, generic, first)
	if g.Faults() > before {
		return m
	}
	var faults material.Faults
	if errors.As(m.Check(), &faults) {
		g.place(faults)
	}
	return m
}

// own reports a name that something else has.
func (g *group) own(name string, generic *material.Shelf, first map[string]keyed.Spot) {
	at := g.of.at("Name")
	before, twice := first[name]
	switch {
	case name == "":
	case twice:
		g.Report(at, fmt.Sprintf("material %q is here a second time, first on line %d", name, before.Line), "every material needs a name of its own")
	case slices.Contains(generic.Names(), name):
		g.Report(at, fmt.Sprintf("%q is a built-in class", name), "give your product a name of its own, and write like: "+name)
	}
	if !twice {
		first[name] = at
	}
}
