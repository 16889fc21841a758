package mix

import "fmt"

// Limits of what parts are stored and mixed at, °C. Assumptions; beyond them a unit was mistaken.
const (
	coldestPartC = -40.0
	hottestPartC = 200.0
)

// MixedC is the temperature of the mix just stirred, °C, by the heat balance of its parts: the mean of
// their temperatures weighted by mass and specific heat. It leaves out the cup, the air and the heat of
// the reaction, and takes all specific heats as equal where a part states none. The temperatures are in
// the order of the parts.
func (r Recipe) MixedC(partC ...float64) (float64, error) {
	if err := r.Check(); err != nil {
		return 0, fmt.Errorf("temperature of the mix: %w", err)
	}
	if len(partC) != len(r.Parts) {
		return 0, fmt.Errorf("temperature of the mix: %d temperatures for %d parts: give one for each of %q", len(partC), len(r.Parts), r.partNames())
	}
	heats, mixed, sum := r.heats(), 0.0, 0.0
	for i, tempC := range partC {
		if !(tempC >= coldestPartC && tempC <= hottestPartC) {
			return 0, fmt.Errorf("temperature of the mix: %q at %g °C cannot be: give %g to %g °C", r.Parts[i].Name, tempC, coldestPartC, hottestPartC)
		}
		mixed += heats[i] * tempC
		sum += heats[i]
	}
	return mixed / sum, nil
}

// heats gives what each part's temperature weighs in the mix.
func (r Recipe) heats() []float64 {
	heats, all := r.byWeight(), true
	for _, p := range r.Parts {
		all = all && p.JPerGramK > 0
	}
	if all {
		for i, p := range r.Parts {
			heats[i] *= p.JPerGramK
		}
	}
	return heats
}
