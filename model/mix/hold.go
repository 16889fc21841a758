package mix

import (
	"fmt"
	"math"
	"strings"
)

// TooCoarse is why a scale cannot hold a recipe's ratio, and what would.
type TooCoarse struct {
	RatioError
	Deviation float64 // what rounding to the display adds
	Tolerance float64

	// What to do instead; zero or false where it would not help. Each alone is enough.
	MixGrams  float64 // a larger batch, of just this weight
	StepGrams float64 // the same batch on a finer scale, its repeatability finer in proportion
	Apart     bool    // the same batch, each part weighed alone
}

// Off is the relative error that the ratio may have in all: expanded uncertainty and rounding.
func (t *TooCoarse) Off() float64 { return t.Rel() + t.Deviation }

// Error says what cannot be held and what to do.
func (t *TooCoarse) Error() string {
	var do []string
	if t.MixGrams > 0 {
		do = append(do, fmt.Sprintf("mix %.6g g", t.MixGrams))
	}
	if t.StepGrams > 0 {
		do = append(do, fmt.Sprintf("take a scale with steps of %g g", t.StepGrams))
	}
	if t.Apart {
		do = append(do, "weigh each part alone")
	}
	if len(do) == 0 {
		do = []string{"take a much finer scale"}
	}
	off := "far off"
	if t.Off() < 0.3 { // beyond it the propagation is no measure any more
		off = fmt.Sprintf("up to %.2g %% off", 100*t.Off())
	}
	return fmt.Sprintf("this scale leaves the ratio of %s to %s %s, for a tolerance of %.2g %%: %s",
		t.Part, t.To, off, 100*t.Tolerance, strings.Join(do, ", or "))
}

// Hold judges whether a batch of totalGrams keeps within the recipe's tolerance on this scale, with its
// weights rounded to the display. What it cannot hold comes as [*TooCoarse].
func (s Scale) Hold(r Recipe, totalGrams float64, w Weighing) error {
	b, err := r.Batch(totalGrams)
	if err != nil {
		return fmt.Errorf("judge the scale: %w", err)
	}
	least, err := s.Smallest(r, w)
	if err != nil {
		return fmt.Errorf("judge the scale: %w", err)
	}
	if load := b.heaviest(w); s.overloaded(load) {
		return fmt.Errorf("judge the scale: %.6g g are more than the %g g it takes: split the batch over several cups", load, s.MaxGrams)
	}
	refusal, err := s.refuse(r, b, w)
	if refusal == nil {
		return err
	}
	refusal.MixGrams = s.larger(r, max(least, totalGrams), w)
	refusal.StepGrams = s.finer(r, b, w)
	if w == Running {
		alone, _ := s.refuse(r, b, Apart)
		refusal.Apart = alone == nil
	}
	return refusal
}

func (s Scale) overloaded(grams float64) bool { return s.MaxGrams > 0 && grams > s.MaxGrams }

// refuse gives what is wrong with a batch, nil when it holds.
func (s Scale) refuse(r Recipe, b Batch, w Weighing) (*TooCoarse, error) {
	e, err := s.RatioError(b, w)
	if err != nil {
		return nil, err
	}
	refusal := &TooCoarse{RatioError: e, Deviation: 1, Tolerance: r.Tolerance}
	if a, err := s.Aim(b, w); err == nil { // a part too light to show is as wrong as can be
		refusal.Deviation = a.Deviation
	}
	if refusal.Off() > r.Tolerance*(1+1e-12) {
		return refusal, nil
	}
	return nil, nil
}

// mostTries bounds the search for a batch whose weights all fall near steps of the display. The nearer a
// batch comes to it without, the less the rounding matters.
const mostTries = 10_000

// larger is a batch of at least totalGrams that holds, its smallest part on a step; 0 = none on this scale.
func (s Scale) larger(r Recipe, totalGrams float64, w Weighing) float64 {
	for range mostTries {
		b, err := s.Even(r, totalGrams)
		if err != nil || s.overloaded(b.heaviest(w)) {
			return 0
		}
		if refusal, err := s.refuse(r, b, w); refusal == nil && err == nil {
			return b.TotalGrams
		}
		totalGrams = b.TotalGrams * (1 + s.StepGrams/b.leastPart().Grams)
	}
	return 0
}

// finer is the coarsest step below this one, of those displays have (1, 2 or 5 of a power of ten), on
// which the same batch holds; 0 = none above a thousandth of this one.
func (s Scale) finer(r Recipe, b Batch, w Weighing) float64 {
	power := math.Ceil(math.Log10(s.StepGrams))
	for down := range 5 {
		for _, digit := range []float64{5, 2, 1} {
			step := digit * math.Pow(10, power-float64(down))
			if step >= s.StepGrams || step < s.StepGrams/1000 {
				continue
			}
			fine := Scale{step, s.RepeatabilityGrams * step / s.StepGrams, 0}
			if refusal, err := fine.refuse(r, b, w); refusal == nil && err == nil {
				return step
			}
		}
	}
	return 0
}
