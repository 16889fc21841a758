package mix

import "fmt"

// Box is the inside of a mold box, with the pattern in it.
type Box struct {
	LengthMM, WidthMM, DepthMM float64 // depth up to which it is filled
	PatternML                  float64 // volume of the pattern below that; 0 = nothing in it
}

// MilliLiters is what fills the box around the pattern.
func (b Box) MilliLiters() (float64, error) {
	for _, side := range []float64{b.LengthMM, b.WidthMM, b.DepthMM} {
		if !(side > 0 && side <= longestMM) {
			return 0, fmt.Errorf("a box of %g x %g x %g mm cannot be: give three sides above 0, up to %g mm", b.LengthMM, b.WidthMM, b.DepthMM, longestMM)
		}
	}
	box := b.LengthMM * b.WidthMM * b.DepthMM / 1000
	switch {
	case !(b.PatternML >= 0):
		return 0, fmt.Errorf("a pattern of %g mL cannot be: give its volume, or 0 for an empty box", b.PatternML)
	case b.PatternML >= box:
		return 0, fmt.Errorf("a pattern of %g mL leaves nothing of a box of %g mL: measure both again, in mm and mL", b.PatternML, box)
	}
	return box - b.PatternML, nil
}

// Brushed is rubber brushed over a pattern.
type Brushed struct {
	AreaCM2     float64 // surface of the pattern, its folds included
	ThicknessMM float64 // of one layer
	Layers      int     // at least 1
}

// MilliLiters is what all layers hold.
func (b Brushed) MilliLiters() (float64, error) {
	switch {
	case !(b.AreaCM2 > 0 && b.AreaCM2 <= largestCM2):
		return 0, fmt.Errorf("an area of %g cm² cannot be brushed: give one above 0, up to %g", b.AreaCM2, largestCM2)
	case !(b.ThicknessMM > 0 && b.ThicknessMM <= longestMM):
		return 0, fmt.Errorf("a layer of %g mm cannot be: give a thickness above 0, up to %g mm", b.ThicknessMM, longestMM)
	case b.Layers < 1 || b.Layers > mostLayers:
		return 0, fmt.Errorf("%d layers cannot be: give 1 to %d", b.Layers, mostLayers)
	}
	return b.AreaCM2 * b.ThicknessMM / 10 * float64(b.Layers), nil
}

// Limits beyond which a unit was mistaken. Assumptions.
const (
	longestMM  = 1e4 // 10 m
	largestCM2 = 1e6 // 100 m²
	mostLayers = 100
	mostWaste  = 2.0
	mostLiters = 1e4
	mlPerLiter = 1000
)

// Grams is what to mix to fill milliLiters at a density, with an allowance for what stays in the cup and
// on the brush: a share of what is needed, 0.1 for 10 % more.
func Grams(milliLiters, gramsPerML, waste float64) (float64, error) {
	switch {
	case !(milliLiters > 0 && milliLiters <= mostLiters*mlPerLiter):
		return 0, fmt.Errorf("a volume of %g mL cannot be filled: give one above 0, up to %g L", milliLiters, mostLiters)
	case !(gramsPerML > 0 && gramsPerML <= mostGramsPerML):
		return 0, fmt.Errorf("a density of %g g/mL cannot be: give one above 0 to %g, as 1.1 for many rubbers", gramsPerML, mostGramsPerML)
	case !(waste >= 0 && waste <= mostWaste):
		return 0, fmt.Errorf("a waste allowance of %g cannot be: give a share of what is needed from 0 to %g, as 0.1 for 10 %%", waste, mostWaste)
	}
	return milliLiters * gramsPerML * (1 + waste), nil
}
