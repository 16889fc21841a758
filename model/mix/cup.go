package mix

import (
	"fmt"
	"math"
)

// Cup is a container that batches are mixed in.
type Cup struct {
	BrimMilliLiters float64 // to the brim
	DiameterMM      float64 // inside, of a straight wall; 0 = not told
	Fill            float64 // share of the brim to fill at most, so that it can be stirred; 0 = [StirFill]
}

// StirFill is how full a cup can be and still be stirred without spilling: common practice, no source.
const StirFill = 2.0 / 3

// Filling is one batch in several cups, all filled alike so that one stir height holds for each.
type Filling struct {
	Cups            int
	MilliLitersEach float64
	HeightMM        float64 // of the mix in each cup; 0 where the diameter is not told
}

// mostCups is more than anybody stirs.
const mostCups = 1000

// Split says how many cups it takes to mix milliLiters. Each cup is a batch of its own: weigh each alone,
// and judge the scale on one of them, not on the sum.
func (c Cup) Split(milliLiters float64) (Filling, error) {
	fill := c.Fill
	if fill == 0 {
		fill = StirFill
	}
	switch {
	case !(milliLiters > 0 && milliLiters <= mostLiters*mlPerLiter):
		return Filling{}, fmt.Errorf("a volume of %g mL cannot be mixed: give one above 0, up to %g L", milliLiters, mostLiters)
	case !above0(c.BrimMilliLiters):
		return Filling{}, fmt.Errorf("a cup of %g mL cannot be: give what it holds to the brim, above 0", c.BrimMilliLiters)
	case !(fill > 0 && fill <= 1):
		return Filling{}, fmt.Errorf("a cup cannot be filled to %g of its brim: give a share above 0 to 1", fill)
	case !stated(c.DiameterMM, longestMM):
		return Filling{}, fmt.Errorf("a cup %g mm wide cannot be: give a diameter above 0 to %g mm, or 0 where it is not told", c.DiameterMM, longestMM)
	}
	cups := math.Ceil(milliLiters / (c.BrimMilliLiters * fill) * (1 - 1e-12)) // a full cup is not one and a bit
	if cups > mostCups {
		return Filling{}, fmt.Errorf("%g mL take %g cups of %g mL: take a larger cup", milliLiters, cups, c.BrimMilliLiters)
	}
	f := Filling{Cups: int(cups), MilliLitersEach: milliLiters / cups}
	if c.DiameterMM > 0 {
		f.HeightMM = f.MilliLitersEach * 1000 / (math.Pi / 4 * c.DiameterMM * c.DiameterMM)
	}
	return f, nil
}
