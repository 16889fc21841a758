package config

import (
	_ "embed"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	_ "time/tzdata" // a board's small system may come without the zone database

	"pourward/cmd/pourward/internal/keyed"
)

//go:embed example.yml
var example []byte

// Example returns a file that passes every check, with every key explained.
func Example() []byte { return slices.Clone(example) }

// Load reads and checks the file at path. What is wrong in it comes as [Problems].
func Load(path string) (*Config, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the configuration: %w", err)
	}
	return Parse(path, data)
}

// Parse checks data, the text of the file called name, whose folder relative paths start from. It
// opens nothing. The error is of type [Problems] and lists all that is wrong at once; no key that was
// written is ever replaced by a default.
func Parse(name string, data []byte) (*Config, error) {
	r := &keyed.Reader{File: name, Form: keyed.Form{Deepest: 32, Example: "shop: " + shopExample, Quoted: `"%"`, OddKeys: true}}
	var c *Config
	if root := r.Open(data); root != nil {
		c = readConfig(&group{Group: root, dir: filepath.Dir(name)})
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return c, nil
}
