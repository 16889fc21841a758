package doubt

import (
	"errors"
	"fmt"
	"math"
)

// Thing is what a maker can touch.
type Thing uint8

const (
	Cup    Thing = iota // leftover of the batch: the control
	Patch               // test patch on the prepared surface, of the same batch
	Mold                // the mold itself, at an edge
	things = iota
)

// String gives the maker's word.
func (t Thing) String() string {
	if int(t) < things {
		return [things]string{"cup", "patch", "mold"}[t]
	}
	return fmt.Sprintf("thing %d", uint8(t))
}

// Finding is what a touch found.
type Finding uint8

const (
	Firm     Finding = iota // no tack, no mark
	Tacky                   // sticks, or takes a print
	Liquid                  // still flows
	Spoiled                 // cured, but its face is gummy, cratered or stained where it met the surface
	findings = iota
)

// String gives the maker's word.
func (f Finding) String() string {
	if int(f) < findings {
		return [findings]string{"firm", "tacky", "liquid", "surface spoiled"}[f]
	}
	return fmt.Sprintf("finding %d", uint8(f))
}

// soft reports whether the need was not met.
func (f Finding) soft() bool { return f == Tacky || f == Liquid }

// Check is one touch and the cure age of the thing at that instant.
type Check struct {
	Of     Thing
	Found  Finding
	LnAge  float64 // ln(cure age / reference time); 0 = its time, -Inf = just poured
	LnLess float64 // by how much less it may be because of gaps, >= 0; +Inf where nothing is known
	LnMore float64 // by how much more, >= 0
}

// Spread is how far ln(need) strays, as standard deviations. Anything below 0.03 counts as 0.03.
type Spread struct {
	Shared float64         // reference time, activation energy over the distance in temperature, probe; common to the batch
	Own    [things]float64 // of one thing alone: thickness, lag, the finger; by Thing; 0 = OwnSD
}

// OwnSD is the spread of one thing where nothing better is known. Assumption: two touches of like
// things differ by about a tenth of their time.
const OwnSD = 0.08

// Limits of what a Case may hold.
const (
	MaxChecks = 100 // findings
	MaxSD     = 2.0 // either standard deviation of ln(need)
	leastSD   = 0.03
)

// Case is everything known of one batch and the surface it was poured on.
type Case struct {
	Spread  Spread
	Checks  []Check
	Surface Surface
	ColdK   float64 // how far below its reference temperature the rubber was on the mean while it cured, K; <= 0 = not cold
	Priors  *Priors // nil = DefaultPriors
}

// priors returns the case's priors.
func (c Case) priors() Priors {
	if c.Priors == nil {
		return DefaultPriors()
	}
	return *c.Priors
}

// settled returns the spread with its defaults and floors filled in.
func (s Spread) settled() Spread {
	s.Shared = max(s.Shared, leastSD)
	for i, own := range s.Own {
		if own == 0 {
			own = OwnSD
		}
		s.Own[i] = max(own, leastSD)
	}
	return s
}

// total is the standard deviation of ln(need) of a thing in a good batch on a clean surface.
func (s Spread) total(t Thing) float64 { return math.Hypot(s.Shared, s.Own[t]) }

// validate says what in the case cannot be.
func (c Case) validate() error {
	for _, sd := range append(c.Spread.Own[:], c.Spread.Shared) {
		if !(sd >= 0 && sd <= MaxSD) {
			return fmt.Errorf("judge findings: spread %g of ln(need) is outside 0 to %g", sd, MaxSD)
		}
	}
	if math.IsNaN(c.ColdK) || math.IsNaN(c.Surface.PatchColdK) {
		return errors.New("judge findings: the cold is not a number; give kelvins below the reference temperature, or 0")
	}
	if len(c.Checks) > MaxChecks {
		return fmt.Errorf("judge findings: %d findings of one batch; keep the %d that matter", len(c.Checks), MaxChecks)
	}
	for i, check := range c.Checks {
		if err := check.validate(); err != nil {
			return fmt.Errorf("judge findings: finding %d: %w", i+1, err)
		}
	}
	if err := c.Surface.validate(); err != nil {
		return fmt.Errorf("judge findings: %w", err)
	}
	if err := c.priors().validate(); err != nil {
		return fmt.Errorf("judge findings: %w", err)
	}
	return nil
}

func (k Check) validate() error {
	switch {
	case int(k.Of) >= things || int(k.Found) >= findings:
		return fmt.Errorf("%v found %v: not a thing or finding of this package", k.Of, k.Found)
	case k.Of == Cup && k.Found == Spoiled:
		return errors.New("a cup has no face on the surface that could be spoiled; enter firm, tacky or liquid")
	case math.IsNaN(k.LnAge) || math.IsInf(k.LnAge, 1):
		return fmt.Errorf("the %v has no cure age", k.Of)
	case !(k.LnLess >= 0) || !(k.LnMore >= 0) || math.IsInf(k.LnMore, 1):
		return fmt.Errorf("the age of the %v may be %g less and %g more in ln; both must be 0 or above", k.Of, k.LnLess, k.LnMore)
	}
	return nil
}
