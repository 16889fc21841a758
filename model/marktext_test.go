package model

import (
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model/material"
)

// texts are all texts of a mark, with one element in each list.
func texts(v reflect.Value) (all []reflect.Value) {
	switch {
	case !v.CanSet(): // not of the mark, but of an instant
	case v.Kind() == reflect.String:
		all = append(all, v)
	case v.Kind() == reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		all = texts(v.Index(0))
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			all = append(all, texts(v.Field(i))...)
		}
	}
	return all
}

// A text that is not UTF-8 is refused wherever in a mark it stands, and a mark that is on record already is
// folded all the same.
func TestMarksAreUTF8(t *testing.T) {
	s, err := NewShop(Setup{Places: []string{"bench"}, Shelf: material.Generic()})
	require.NoError(t, err)
	var m Mark
	all := texts(reflect.ValueOf(&m).Elem())
	require.Greater(t, len(all), 15)
	for _, v := range all {
		v.SetString("gypse \xe0 modeler")
		require.ErrorContains(t, s.Accept(m), `: "gypse \xe0 modeler" is not UTF-8 (byte 7 of the text, hexadecimal e0)`)
		v.SetString("")
	}
	m = Mark{ID: 1, Kind: Begun, Mold: "frieze", At: begin(), Place: "bench", Note: strings.Repeat("\xe0", 3)}
	require.ErrorContains(t, s.Accept(m), "note: ")
	require.NoError(t, s.Mark(m))
}
