package mix

import (
	"fmt"
	"math"
)

// Aim is a batch in numbers that the display can show.
type Aim struct {
	Weights   []Weight  // parts, then additives, each a whole number of steps; an additive may come to 0
	Readings  []float64 // what the display shows when each is in, g
	Deviation float64   // what the rounding alone does to the ratio of the parts, relative; see [Recipe.Deviation]
}

// Aim rounds a batch to the steps of the display.
func (s Scale) Aim(b Batch, w Weighing) (Aim, error) {
	if err := s.checkBatch(b, w); err != nil {
		return Aim{}, fmt.Errorf("round to the display: %w", err)
	}
	a := Aim{Weights: b.weights()}
	steps := 0.0
	for i := range a.Weights {
		own := math.Round(a.Weights[i].Grams / s.StepGrams)
		if own == 0 && i < len(b.Parts) {
			return Aim{}, fmt.Errorf("round to the display: %.3g g of %q is less than its step of %g g shows: mix more, or take a finer scale", a.Weights[i].Grams, a.Weights[i].Name, s.StepGrams)
		}
		if w != Running {
			steps = 0
		}
		steps += own
		a.Weights[i].Grams = own * s.StepGrams
		a.Readings = append(a.Readings, steps*s.StepGrams)
	}
	a.Deviation = worstDeviation(grams(a.Weights[:len(b.Parts)]), grams(b.Parts))
	return a, nil
}

// Even gives the next batch of at least totalGrams whose smallest part falls on a step of the display,
// where rounding would do most harm.
func (s Scale) Even(r Recipe, totalGrams float64) (Batch, error) {
	if err := s.check(); err != nil {
		return Batch{}, fmt.Errorf("next even batch: %w", err)
	}
	b, err := r.Batch(totalGrams)
	if err != nil {
		return Batch{}, fmt.Errorf("next even batch: %w", err)
	}
	least := b.leastPart()
	steps := math.Ceil(least.Grams / s.StepGrams * (1 - 1e-12)) // what is on a step but for rounding stays
	even, err := r.FromPart(least.Name, steps*s.StepGrams)
	if err != nil {
		return Batch{}, fmt.Errorf("next even batch: %w", err)
	}
	return even, nil
}

func (b Batch) leastPart() Weight {
	least := b.Parts[0]
	for _, w := range b.Parts {
		if w.Grams < least.Grams {
			least = w
		}
	}
	return least
}

// heaviest is the most that lies on the scale at once, beside the cup.
func (b Batch) heaviest(w Weighing) float64 {
	if w != Apart {
		return b.TotalGrams
	}
	most := 0.0
	for _, weight := range b.weights() {
		most = max(most, weight.Grams)
	}
	return most
}

func grams(weights []Weight) []float64 {
	out := make([]float64, len(weights))
	for i, w := range weights {
		out[i] = w.Grams
	}
	return out
}
