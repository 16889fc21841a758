package model

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"pourward/model/material"
	"pourward/model/mix"
)

// RecipeOf is how a material is mixed. What states no parts is one part alone, as if it came ready mixed.
func RecipeOf(of material.Material) mix.Recipe {
	r := mix.Recipe{Tolerance: of.Mixing.Tolerance}
	if of.Mixing.ByVolume {
		r.Basis = mix.ByVolume
	}
	for _, p := range of.Mixing.Parts {
		r.Parts = append(r.Parts, mix.Part{Name: p.Name, Ratio: p.Ratio, GramsPerML: p.GramsPerML, JPerGramK: p.JPerGramK})
	}
	if len(r.Parts) == 0 {
		r.Parts = []mix.Part{{Name: of.Name, GramsPerML: of.GramsPerML}}
	}
	return r
}

// anyProduct reports whether a material is one of the built-in classes: its products have parts, but each
// has its own.
func anyProduct(of material.Material) bool {
	class, err := material.Generic().Find(of.Name)
	return err == nil && class.Cures()
}

// partNames are the names of a material's parts.
func partNames(of material.Material) []string {
	var names []string
	for _, p := range of.Mixing.Parts {
		names = append(names, p.Name)
	}
	return names
}

// part is the place of a part in the recipe, however its first letters are written; -1 = none.
func part(of material.Material, name string) int {
	return slices.IndexFunc(of.Mixing.Parts, func(p material.Part) bool { return strings.EqualFold(p.Name, name) })
}

// checkWeights says in a sentence which weights the material cannot have.
func checkWeights(of material.Material, b Batch) error {
	parts := partNames(of)
	if len(parts) == 0 {
		if len(b.Parts) > 1 && !anyProduct(of) {
			return fmt.Errorf("%s comes ready mixed and has no ratio, so its parts cannot be weighed: give one weight for all of it, or write its mix into the file of materials", of.Name)
		}
		return nil
	}
	for _, p := range b.Parts {
		if part(of, p.Name) < 0 {
			return fmt.Errorf("%s has no part %q: it has %s", of.Name, p.Name, strings.Join(parts, ", "))
		}
	}
	for _, p := range b.Additives {
		if part(of, p.Name) >= 0 {
			return fmt.Errorf("%q is a part of %s and no additive: list it among the parts", p.Name, of.Name)
		}
	}
	if len(b.Parts) > 0 && len(b.Parts) < len(parts) {
		return fmt.Errorf("some parts of %s were not weighed: give the weights of %s, or of none", of.Name, strings.Join(parts, ", "))
	}
	return nil
}

// checkWeighed judges the weights of a new mark by the material it mixes. What is on record already stays
// as it is, even where the file of materials has changed since.
func (s *Shop) checkWeighed(m Mark, marks []Mark) error {
	if m.ID != 0 || !m.Batch.Told() || m.Kind != Mixed && m.Kind != PatchOn {
		return nil
	}
	of, err := s.setup.Shelf.Find(mixedOf(m, marks))
	if err != nil {
		return nil // a planned material that is off the shelf is told of elsewhere
	}
	return checkWeights(of, m.Batch)
}

// mixedOf is the material that a mark mixed: its own, or the one of the newest mark before it.
func mixedOf(m Mark, marks []Mark) string {
	name := m.Material
	for _, o := range marks {
		if m.Material == "" && o.Material != "" && (o.Kind == Begun || o.Kind == Mixed) && !o.At.After(m.At) {
			name = o.Material
		}
	}
	return name
}

// places lists where the parts stood, each once.
func (b Batch) places() []string {
	var out []string
	for _, p := range append([]Portion{{From: b.From}}, b.Parts...) {
		if p.From != "" && !slices.Contains(out, p.From) {
			out = append(out, p.From)
		}
	}
	return out
}

// usualTolerance is the relative error of a ratio that is told of where the data sheet states no
// tolerance; an assumption.
const usualTolerance = 0.05

// Off is how far weights are off the ratio of the material, relative; ok is false where nothing can be
// compared. beyond reports whether that is more than the material tolerates.
func Off(of material.Material, b Batch) (off float64, beyond, ok bool) {
	parts := of.Mixing.Parts
	if len(parts) < 2 || len(b.Parts) != len(parts) {
		return 0, false, false
	}
	grams := make([]float64, len(parts))
	for _, p := range b.Parts {
		if i := part(of, p.Name); i >= 0 {
			grams[i] = p.Grams
		}
	}
	off, err := RecipeOf(of).Deviation(grams...)
	if err != nil {
		return 0, false, false
	}
	tolerance := of.Mixing.Tolerance
	if tolerance == 0 {
		tolerance = usualTolerance
	}
	return off, off > tolerance*(1+1e-9), true
}

// mixedC is the temperature of the batch just stirred, °C, from those of the places its parts stood at;
// NaN where one of them is not known. Additives are left out: they are little.
func mixedC(of material.Material, b Batch, at func(place string) float64) float64 {
	if len(b.Parts) == 0 {
		return at(b.From)
	}
	var r mix.Recipe
	var temps []float64
	for _, p := range b.Parts {
		one := mix.Part{Name: p.Name, Ratio: p.Grams}
		if i := part(of, p.Name); i >= 0 {
			one.JPerGramK = of.Mixing.Parts[i].JPerGramK
		}
		from := p.From
		if from == "" {
			from = b.From
		}
		r.Parts, temps = append(r.Parts, one), append(temps, at(from))
	}
	if len(temps) == 1 {
		return temps[0]
	}
	c, err := r.MixedC(temps...)
	if err != nil {
		return math.NaN()
	}
	return c
}
