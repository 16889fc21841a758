package keyed

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

func ExampleReader() {
	r := &Reader{File: "shop.yml", Form: Form{Deepest: 4, Example: `name: "Annex"`, Quoted: `"%"`}}
	g := r.Open([]byte("nmae: Annex\nopen: 1\n"))
	if _, ok := Read(g, g.Find("name"), Text("Annex")); !ok {
		g.Missing("name", `"Annex"`)
	}
	Read(g, g.Find("open"), Truth())
	g.Done()
	fmt.Println(r.Err())
	// Output:
	// shop.yml:1:1: the file has no name; write e.g. name: "Annex"
	// shop.yml:1:1: unknown key "nmae"; did you mean name?
	// shop.yml:2:7: open: 1 is a number, not true or false; write e.g. open: true
}

// What cannot be used is reported once, where it stands, and hides nothing else.
func TestSpoiledValueIsToldOnce(t *testing.T) {
	r := &Reader{File: "a.yml", Form: Form{Deepest: 4}}
	g := r.Open([]byte("list: [*gone, {a: 1}]\nname: *gone\n"))
	require.Equal(t, 2, r.Faults())
	require.Len(t, g.Groups(g.Find("list").Value, "item", "{a: 1}"), 1)
	_, ok := Read(g, g.Find("name"), Text("Annex"))
	require.False(t, ok)
	g.Done()
	require.Equal(t, 2, r.Faults())
	require.Equal(t, Spot{1, 1}, g.At("name"))
}

func TestOddKeys(t *testing.T) {
	for _, odd := range []bool{false, true} {
		r := &Reader{File: "a.yml", Form: Form{Deepest: 4, OddKeys: odd}}
		g := r.Open([]byte("1: b\n"))
		require.Equal(t, odd, g.Look("1") != nil)
		require.Equal(t, odd, r.Err() == nil)
	}
}
