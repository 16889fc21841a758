package model

import (
	"fmt"
	"slices"
	"strings"
)

// Method is how a mold is made. The words are stored and shown.
type Method string

const (
	Block   Method = "block"          // poured in one go around the pattern in its box
	Brushed Method = "brushed layers" // brushed on in layers, held by a mother mold
	Glove   Method = "glove"          // a thin brushed skin that is turned inside out to come off
)

// Methods lists the ways to make a mold.
func Methods() []Method { return []Method{Block, Brushed, Glove} }

// Layered reports whether the rubber goes on in layers.
func (m Method) Layered() bool { return m == Brushed || m == Glove }

// Design is how a mold is to be made and how large it is, as far as the maker told. What is zero was not
// told.
type Design struct {
	Method  Method  `json:"method,omitempty"`   // empty = not told
	Coats   int     `json:"coats,omitempty"`    // seal coats to go on
	Layers  int     `json:"layers,omitempty"`   // layers to brush on
	LayerMM float64 `json:"layer_mm,omitempty"` // thickness of one layer, mm

	LengthMM  float64 `json:"length_mm,omitempty"` // inside of the box, mm
	WidthMM   float64 `json:"width_mm,omitempty"`
	DepthMM   float64 `json:"depth_mm,omitempty"`   // up to which it is filled
	PatternML float64 `json:"pattern_ml,omitempty"` // volume of the pattern below that, mL
	AreaCM2   float64 `json:"area_cm2,omitempty"`   // face to brush, its folds included, cm²
}

// Limits of a design; beyond them a number is a slip of the pen. Assumptions, wide on purpose.
const (
	mostCoats     = 20
	mostLayers    = 20
	longestMM     = 10_000
	mostPatternML = 1e6
	mostAreaCM2   = 1e6
)

// check says in a sentence what is wrong with a design.
func (d Design) check() error {
	if d.Method != "" && !slices.Contains(Methods(), d.Method) {
		return fmt.Errorf("%q is no way to make a mold: choose block, brushed layers or glove", d.Method)
	}
	for _, n := range []struct {
		what      string
		is, most  int
		layerOnly bool
	}{{"seal coats", d.Coats, mostCoats, false}, {"layers", d.Layers, mostLayers, true}} {
		switch {
		case n.is < 0 || n.is > n.most:
			return fmt.Errorf("a mold cannot have %d %s: give 0 to %d", n.is, n.what, n.most)
		case n.layerOnly && n.is > 0 && d.Method == Block:
			return fmt.Errorf("a block mold is poured in one go and has no layers: choose brushed layers or glove, or leave the layers out")
		}
	}
	for _, l := range []struct {
		what, unit string
		is, most   float64
	}{
		{"a layer", "mm", d.LayerMM, thickest}, {"the length of the box", "mm", d.LengthMM, longestMM},
		{"the width of the box", "mm", d.WidthMM, longestMM}, {"the depth of the box", "mm", d.DepthMM, longestMM},
		{"the volume of the pattern", "mL", d.PatternML, mostPatternML}, {"the face to brush", "cm²", d.AreaCM2, mostAreaCM2},
	} {
		if !(l.is >= 0 && l.is <= l.most) {
			return fmt.Errorf("%s cannot be %g %s: give 0 to %g %s", l.what, l.is, l.unit, l.most, l.unit)
		}
	}
	return nil
}

// ParseMethod accepts a method as written, or its first word alone; nothing is not told.
func ParseMethod(s string) (Method, error) {
	want := strings.NewReplacer("-", " ", "_", " ").Replace(strings.ToLower(strings.TrimSpace(s)))
	if want == "" {
		return "", nil
	}
	for _, m := range Methods() {
		if first, _, _ := strings.Cut(string(m), " "); want == string(m) || want == first {
			return m, nil
		}
	}
	return "", fmt.Errorf("%q is no way to make a mold: choose block, brushed layers or glove", s)
}
