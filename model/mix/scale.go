package mix

import (
	"errors"
	"fmt"
	"math"
)

// Weighing is how the things of a batch are brought to weight. Setting the display to zero counts as a
// reading with an error of its own: an assumption on the safe side, for many scales set zero finer than
// they show.
type Weighing uint8

const (
	Tared   Weighing = iota // one cup, the display set to zero before each thing: two readings for each
	Running                 // one cup, set to zero once: weights are differences of readings that share errors
	Apart                   // each thing in a cup of its own: two readings for each, and each may have its own scale
	weighings
)

// String gives the way of weighing in a maker's words.
func (w Weighing) String() string {
	switch w {
	case Tared:
		return "set to zero before each part"
	case Running:
		return "running sum"
	case Apart:
		return "each part alone"
	}
	return fmt.Sprintf("weighing %d", uint8(w))
}

// Scale is what a scale can tell apart. An error of its gain cancels in a ratio and is left out.
type Scale struct {
	StepGrams          float64 // step of the display, above 0
	RepeatabilityGrams float64 // standard deviation of weighing the same thing again; 0 = not stated
	MaxGrams           float64 // most it can weigh, beside the cup; 0 = not stated
}

// Coverage is the factor by which a standard uncertainty is expanded, JCGM 100:2008, 6.2 and 6.3.3: about
// 95 % of batches stray less.
const Coverage = 2

func (s Scale) check() error {
	switch {
	case !(s.StepGrams > 0 && s.StepGrams <= mostGrams):
		return fmt.Errorf("a scale with steps of %g g cannot be: give the step of its display in grams, as 1 or 0.1", s.StepGrams)
	case !stated(s.RepeatabilityGrams, mostGrams):
		return fmt.Errorf("a repeatability of %g g cannot be: give a standard deviation in grams, or 0 where none is stated", s.RepeatabilityGrams)
	case !stated(s.MaxGrams, mostGrams):
		return fmt.Errorf("a scale for %g g at most cannot be: give grams above 0, or 0 where it is not stated", s.MaxGrams)
	}
	return nil
}

// variance is that of one reading, g²: the display's rounding and the repeatability (JCGM 100:2008, 4.3.7
// and F.2.2.1).
func (s Scale) variance() float64 {
	rounding := rectangular(s.StepGrams / 2)
	return rounding*rounding + s.RepeatabilityGrams*s.RepeatabilityGrams
}

// rectangular is the standard uncertainty of what may lie anywhere within a half-width, JCGM 100:2008, 4.3.7.
func rectangular(halfWidth float64) float64 { return halfWidth / math.Sqrt(3) }

// RatioError is how far the ratio of two weights may stray because of the scale alone.
type RatioError struct {
	Part, To string
	StdRel   float64 // relative standard uncertainty of the ratio
}

// Rel is the relative uncertainty expanded by [Coverage].
func (e RatioError) Rel() float64 { return Coverage * e.StdRel }

// RatioError is the error of the pair of parts whose ratio may stray most, by the law of propagation of
// uncertainty over all readings (JCGM 100:2008, 5.1.2). It is meant for errors of some percent; at tens
// of percent it only says that the scale is far too coarse.
func (s Scale) RatioError(b Batch, w Weighing) (RatioError, error) {
	if err := s.checkBatch(b, w); err != nil {
		return RatioError{}, fmt.Errorf("error of the ratio: %w", err)
	}
	if len(b.Parts) == 1 {
		return RatioError{}, fmt.Errorf("error of the ratio: %q comes ready mixed and has no ratio: any scale will do", b.Parts[0].Name)
	}
	all := w.take(b)
	worst := RatioError{}
	for i := range b.Parts {
		for j := range i {
			if rel := s.relative(all[i], all[j]); rel > worst.StdRel {
				worst = RatioError{b.Parts[i].Name, b.Parts[j].Name, rel}
			}
		}
	}
	return worst, nil
}

// AdditiveErrors are the errors of the additives' shares, in the order of the batch. The part is named
// that each is a share of, or empty for all parts together.
func (s Scale) AdditiveErrors(b Batch, w Weighing) ([]RatioError, error) {
	if err := s.checkBatch(b, w); err != nil {
		return nil, fmt.Errorf("error of the additives: %w", err)
	}
	all := w.take(b)
	var out []RatioError
	for i, a := range b.Additives {
		base, name := sum(all[:len(b.Parts)]), ""
		if of := b.bases[i]; of != whole {
			base, name = all[of], b.Parts[of].Name
		}
		out = append(out, RatioError{a.Name, name, s.relative(all[len(b.Parts)+i], base)})
	}
	return out, nil
}

// Smallest is the smallest batch whose ratio keeps within the recipe's tolerance at [Coverage]. It takes
// weights that the display can show for granted; [Scale.Hold] does not.
func (s Scale) Smallest(r Recipe, w Weighing) (totalGrams float64, err error) {
	if err := r.Check(); err != nil {
		return 0, fmt.Errorf("smallest batch: %w", err)
	}
	if r.Tolerance == 0 {
		return 0, errors.New("smallest batch: the recipe has no tolerance: take that of the ratio from the data sheet, as 0.02 for 2 %")
	}
	unit := r.scaled(1)
	e, err := s.RatioError(unit, w)
	if err != nil {
		return 0, fmt.Errorf("smallest batch: %w", err)
	}
	return unit.TotalGrams * e.Rel() / r.Tolerance, nil // relative errors go with 1/weight
}

func (s Scale) checkBatch(b Batch, w Weighing) error {
	if w >= weighings {
		return fmt.Errorf("%v is unknown: say tared, running or apart", w)
	}
	if err := s.check(); err != nil {
		return err
	}
	return b.check()
}

// taken is a weight as a sum of readings, each with its sign.
type taken struct {
	grams float64
	signs []float64
}

// take says which readings give each weight of a batch, parts first.
func (w Weighing) take(b Batch) []taken {
	weights := b.weights()
	step := 2 // a zero and a reading for each
	if w == Running {
		step = 1 // each reading is the next one's zero
	}
	all := make([]taken, len(weights))
	for i, weight := range weights {
		all[i] = taken{weight.Grams, make([]float64, step*(len(weights)-1)+2)}
		all[i].signs[step*i], all[i].signs[step*i+1] = -1, 1
	}
	return all
}

func sum(all []taken) taken {
	out := taken{signs: make([]float64, len(all[0].signs))}
	for _, t := range all {
		out.grams += t.grams
		for k, sign := range t.signs {
			out.signs[k] += sign
		}
	}
	return out
}

// relative is the relative standard uncertainty of a ratio of two weights. Each reading counts once, with
// what it does to both, so errors that the two share need no covariance (JCGM 100:2008, F.1.2.3).
func (s Scale) relative(top, bottom taken) float64 {
	squares := 0.0
	for k := range top.signs {
		c := top.signs[k]/top.grams - bottom.signs[k]/bottom.grams
		squares += c * c
	}
	return math.Sqrt(squares * s.variance())
}
