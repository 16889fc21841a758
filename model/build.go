package model

import (
	"fmt"
	"strings"

	"pourward/model/heat"
)

// Build is what a mold is made of, as far as the maker told. With it the lag of the rubber behind the air
// is reckoned; without it only the air is known, and the band is wider.
type Build struct {
	Pattern   string  // what the pattern is made of, one of [BuildMaterials]; empty = not told
	PatternMM float64 // its thickness, or half of it where rubber covers both sides, mm
	RubberMM  float64 // thickness of the rubber at its thickest, mm; 0 = not told
	Shell     string  // what lies on the rubber: the box, the mother mold; empty = nothing
	ShellMM   float64
	ProbeIn   string // where the probe of the surface place sits: empty or "pattern" = on the pattern's face, "rubber" = in the middle of the rubber
}

// Places of a probe in a mold.
const (
	OnPattern = "pattern"
	InRubber  = "rubber"
)

// Told reports whether enough is known to reckon with.
func (b Build) Told() bool { return b.RubberMM > 0 }

// thickest is the thickest layer that makes sense, mm.
const thickest = 500

// BuildMaterials lists what patterns and shells may be made of.
func BuildMaterials() []string {
	var names []string
	for _, m := range heat.Materials() {
		if !strings.Contains(m.Name, ",") { // the ends of a bracket are no materials of their own
			names = append(names, m.Name)
		}
	}
	return names
}

func buildMaterial(name string) (heat.Material, error) {
	for _, m := range heat.Materials() {
		if m.Name == name {
			return m, nil
		}
	}
	return heat.Material{}, fmt.Errorf("nothing is known of the heat in %q: choose one of %s", name, strings.Join(BuildMaterials(), ", "))
}

// check says in a sentence what is wrong with a build.
func (b Build) check() error {
	if b == (Build{}) {
		return nil
	}
	for _, l := range []struct {
		what, of string
		mm       float64
	}{{"rubber", "", b.RubberMM}, {"pattern", b.Pattern, b.PatternMM}, {"shell", b.Shell, b.ShellMM}} {
		switch {
		case !(l.mm >= 0 && l.mm <= thickest):
			return fmt.Errorf("the %s cannot be %g mm thick: give 0 to %d mm", l.what, l.mm, thickest)
		case l.of == "" && l.what != "rubber" && l.mm > 0:
			return fmt.Errorf("the %s has a thickness but no material: choose one of %s", l.what, strings.Join(BuildMaterials(), ", "))
		case l.of == "":
		case l.mm == 0:
			return fmt.Errorf("the %s of %s needs a thickness in mm", l.what, l.of)
		default:
			if _, err := buildMaterial(l.of); err != nil {
				return err
			}
		}
	}
	switch b.ProbeIn {
	case "", OnPattern, InRubber:
	default:
		return fmt.Errorf("a probe sits on the pattern or in the rubber, not in %q: say pattern or rubber", b.ProbeIn)
	}
	if !b.Told() {
		return fmt.Errorf("a build needs the thickness of the rubber in mm")
	}
	return nil
}

// layers are the layers from the pattern's back to the outer face; rubber is the place of the rubber
// among them.
func (b Build) layers() (all []heat.Layer, rubber int) {
	if m, err := buildMaterial(b.Pattern); err == nil {
		all = append(all, heat.Layer{Material: m, Thickness: b.PatternMM / 1000})
	}
	rubber = len(all)
	all = append(all, heat.Layer{Material: heat.MoldRubber(), Thickness: b.RubberMM / 1000, Cures: true})
	if m, err := buildMaterial(b.Shell); err == nil {
		all = append(all, heat.Layer{Material: m, Thickness: b.ShellMM / 1000})
	}
	return all, rubber
}
