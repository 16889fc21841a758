package mix

import (
	"fmt"
	"math"
)

// Weight is how much of one thing goes into a batch.
type Weight struct {
	Name  string
	Grams float64
}

// Batch is what one cup holds.
type Batch struct {
	Parts      []Weight // in the recipe's order
	Additives  []Weight // in the recipe's order
	TotalGrams float64  // of both
	TimeFactor float64  // see [Recipe.TimeFactor]

	bases []int // for each additive, the place of the part it is a share of; whole = all parts
}

const whole = -1

// mostGrams is the largest batch that is no slip of the pen, 10 t. Assumption.
const mostGrams = 1e7

// Batch gives the weights of a batch of totalGrams, additives included.
func (r Recipe) Batch(totalGrams float64) (Batch, error) {
	if err := checkGrams("a batch", totalGrams); err != nil {
		return Batch{}, err
	}
	if err := r.Check(); err != nil {
		return Batch{}, fmt.Errorf("weigh out %g g: %w", totalGrams, err)
	}
	unit := r.scaled(1)
	return r.scaled(totalGrams / unit.TotalGrams), nil
}

// FromPart gives the batch that uses up grams of the named part: what is left in a container, or what
// was already poured.
func (r Recipe) FromPart(name string, grams float64) (Batch, error) {
	if err := checkGrams(fmt.Sprintf("a weight of %q", name), grams); err != nil {
		return Batch{}, err
	}
	if err := r.Check(); err != nil {
		return Batch{}, fmt.Errorf("weigh out a batch to %g g of %q: %w", grams, name, err)
	}
	for _, w := range r.scaled(1).Parts {
		if w.Name == name {
			return r.scaled(grams / w.Grams), nil
		}
	}
	return Batch{}, fmt.Errorf("weigh out a batch to %g g of %q: no part is called that, name one of %q", grams, name, r.partNames())
}

// scaled gives the batch whose parts together weigh partGrams.
func (r Recipe) scaled(partGrams float64) Batch {
	b := Batch{TimeFactor: r.TimeFactor()}
	base := map[string]int{}
	for i, share := range r.byWeight() {
		base[r.Parts[i].Name] = i
		b.Parts = append(b.Parts, Weight{r.Parts[i].Name, share * partGrams})
		b.TotalGrams += share * partGrams
	}
	base[""] = whole
	for _, a := range r.Additives {
		of := base[a.Of]
		grams := a.Share * partGrams
		if of != whole {
			grams = a.Share * b.Parts[of].Grams
		}
		b.bases = append(b.bases, of)
		b.Additives = append(b.Additives, Weight{a.Name, grams})
	}
	for _, w := range b.Additives {
		b.TotalGrams += w.Grams
	}
	return b
}

// weights gives everything in the cup, in the order it goes in.
func (b Batch) weights() []Weight {
	return append(append([]Weight(nil), b.Parts...), b.Additives...)
}

// check says whether a batch is one that a recipe gave.
func (b Batch) check() error {
	if len(b.Parts) == 0 || len(b.bases) != len(b.Additives) {
		return fmt.Errorf("the batch is empty: take one from a recipe")
	}
	for _, w := range b.weights() {
		if err := checkGrams(fmt.Sprintf("a weight of %q", w.Name), w.Grams); err != nil {
			return err
		}
	}
	return nil
}

// GramsPerML is the density of the mixed parts, taking their volumes to add up and leaving additives out.
// A material that comes ready mixed has its own.
func (r Recipe) GramsPerML() (float64, error) {
	if err := r.Check(); err != nil {
		return 0, fmt.Errorf("density of the mix: %w", err)
	}
	milliLiters := 0.0
	for i, share := range r.byWeight() {
		p := r.Parts[i]
		if p.GramsPerML == 0 {
			return 0, fmt.Errorf("density of the mix: none is stated for %q: take it from the data sheet, or give that of the mix", p.Name)
		}
		milliLiters += share / p.GramsPerML
	}
	return 1 / milliLiters, nil
}

// Deviation is how far weights already poured, in the order of the parts, are off the ratio: the largest
// relative error of the ratio of any two of them.
func (r Recipe) Deviation(grams ...float64) (float64, error) {
	if err := r.Check(); err != nil {
		return 0, fmt.Errorf("compare weights with the ratio: %w", err)
	}
	if len(grams) != len(r.Parts) {
		return 0, fmt.Errorf("compare weights with the ratio: %d weights for %d parts: give one for each of %q", len(grams), len(r.Parts), r.partNames())
	}
	for i, g := range grams {
		if err := checkGrams(fmt.Sprintf("a weight of %q", r.Parts[i].Name), g); err != nil {
			return 0, err
		}
	}
	return worstDeviation(grams, r.byWeight()), nil
}

// worstDeviation is the largest relative error of the ratio of any two weights, against those wanted. The
// smaller part is put on top of the ratio, so that one that is missing counts as 100 % off.
func worstDeviation(grams, wanted []float64) float64 {
	worst := 0.0
	for i := range wanted {
		for j := range i {
			small, large := i, j
			if wanted[i] > wanted[j] {
				small, large = j, i
			}
			off := math.Abs(grams[small]/grams[large]*wanted[large]/wanted[small] - 1)
			worst = max(worst, off)
		}
	}
	return worst
}

func (r Recipe) partNames() []string {
	var names []string
	for _, p := range r.Parts {
		names = append(names, p.Name)
	}
	return names
}

func checkGrams(what string, grams float64) error {
	if !(grams > 0 && grams <= mostGrams) {
		return fmt.Errorf("%s of %g g cannot be: give grams above 0, up to %g", what, grams, mostGrams)
	}
	return nil
}
