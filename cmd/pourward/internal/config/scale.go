package config

import (
	"pourward/cmd/pourward/internal/keyed"
)

const scaleExample = `{step: "1 g", repeatability: "0.5 g", max: "5 kg"}`

// Scale is what batches are weighed on. Step is above 0; what is 0 else was not told.
type Scale struct {
	StepGrams          float64 // of its display
	RepeatabilityGrams float64 // one standard deviation of weighing the same again
	MaxGrams           float64 // most it takes
}

// Limits of a scale for batches; beyond them a unit was mistaken. Assumptions.
const (
	finestGrams, coarsestGrams = 1e-6, 1000.0
	heaviestGrams              = 1e6
)

func readScale(g *group) *Scale {
	if g == nil {
		return nil
	}
	defer g.Done()
	faults := g.Faults()
	s := &Scale{
		StepGrams:          required(g, "step", measured(ParseGrams, "1 g", finestGrams, coarsestGrams, "0.000001 g to 1 kg")),
		RepeatabilityGrams: optional(g, "repeatability", measured(ParseGrams, "0.5 g", 0, coarsestGrams, "0 g to 1 kg"), 0),
		MaxGrams:           optional(g, "max", measured(ParseGrams, "5 kg", finestGrams, heaviestGrams, "0.000001 g to 1000 kg"), 0),
	}
	if g.Faults() == faults && s.MaxGrams > 0 && s.MaxGrams <= s.StepGrams {
		g.Report(g.At("max"), "scale: the most it takes is not above its step", `write e.g. step: "1 g", max: "5 kg"`)
	}
	return s
}

// ParseGrams reads a weight with its unit: "1 g", "5 kg". The unit is never guessed.
func ParseGrams(text string) (float64, error) {
	number, unit, err := quantity(text, "a weight", 1, "g", "kg")
	switch {
	case err != nil:
		return 0, err
	case unit == "g":
		return number, nil
	case unit == "kg":
		return number * 1000, nil
	}
	return 0, keyed.Wrongf("%q: %q is no unit of weight here", text, unit).InsteadWrite(examples(number, "g", "kg"))
}
