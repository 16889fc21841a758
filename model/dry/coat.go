package dry

import (
	"math"
	"time"

	"pourward/model/air"
)

// Coat is what the data sheet and the maker say about one coat. The zero
// value of every field but Class and Ref asks for a default.
type Coat struct {
	Class         Class
	Ref           time.Duration // dry time on the data sheet; without one nothing is projected
	RefC          float64       // temperature the sheet's time holds at, °C; 0 or NaN = 23
	RefHumidity   float64       // humidity ratio the sheet's time holds at, below 1; 0 or NaN = 0.50
	WetShare      float64       // share of Ref spent in the wet stage, 0..1; 0 = class default
	FilmFormingC  float64       // minimum film-forming temperature, °C; 0 or NaN = 10
	Thickness     float64       // film thickness relative to the sheet's; 0 = 1
	Touch         TouchTests    // what earlier coats of this product really needed
	StandardScore float64       // place in the band, in standard deviations of ln time: 0 = likely, 1.2816 = 90 %
}

// Progress is how far a coat has dried: each stage runs from 0 to 1 and the
// film stage starts when the wet stage has ended.
type Progress struct {
	Wet, Film float64
}

// Done reports whether both stages have ended.
func (p Progress) Done() bool { return p.Wet >= 1 && p.Film >= 1 }

// Share is the overall progress, 0..1, with the stages counted alike. See
// [Coat.Share] for the share of the sheet's time.
func (p Progress) Share() float64 { return (p.Wet + p.Film) / 2 }

// Share is the part of the coat's reference time that p has put behind it, 0..1.
func (c Coat) Share(p Progress) float64 {
	k := c.clock()
	total := k.wetSeconds + k.filmSeconds
	if !(total > 0) {
		return 0
	}
	return (k.wetSeconds*p.Wet + k.filmSeconds*p.Film) / total
}

// clock is a coat made ready for stepping: every default settled and every
// constant that the air does not change worked out once.
type clock struct {
	traits
	coat         Coat
	wetSeconds   float64 // length of the wet stage at rate 1
	filmSeconds  float64 // length of the film stage at rate 1
	inverseRefK  float64
	deficitPa    float64 // vapor-pressure deficit of the reference air
	filmFormingC float64
	baseSD       float64 // spread of ln time that the air does not change
}

// clock settles the coat's defaults. Thickness lengthens the wet stage in
// proportion (more liquid leaves through the same surface) and the film stage
// by its square (diffusion through a thicker film).
func (c Coat) clock() clock {
	t := c.Class.traits()
	share := orDefault(c.WetShare, t.wetShare)
	share = math.Min(share, 1)
	thick := orDefault(c.Thickness, 1)
	ref := c.Ref.Seconds() * c.Touch.Factor()
	refC := orDefault(c.RefC, referenceC)
	k := clock{
		traits:       t,
		coat:         c,
		wetSeconds:   share * ref * thick,
		filmSeconds:  (1 - share) * ref * thick * thick,
		inverseRefK:  1 / (refC + kelvin),
		filmFormingC: orDefault(c.FilmFormingC, filmFormingC),
		baseSD:       c.Touch.BaseLnSD(),
	}
	if t.deficit {
		k.deficitPa = (1 - referenceHumidity(c.RefHumidity)) * air.SaturationPa(refC)
	}
	return k
}

// referenceHumidity settles the sheet's humidity. At saturation nothing would
// ever dry, so such a statement cannot be meant.
func referenceHumidity(stated float64) float64 {
	if stated >= 1 {
		return referenceRatio
	}
	return orDefault(stated, referenceRatio)
}

// orDefault returns the default where value was left out: zero, negative or NaN.
func orDefault(value, byDefault float64) float64 {
	if value > 0 {
		return value
	}
	return byDefault
}
