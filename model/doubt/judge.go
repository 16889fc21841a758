package doubt

import "math"

// Verdict is what the maker is told to believe.
type Verdict uint8

const (
	CannotSay Verdict = iota // what was found does not settle it
	Wait                     // not firm, but not past its time either, and nothing speaks against it
	Inhibited                // the surface inhibits
	BadBatch                 // the batch is bad
	Fine                     // what was touched is firm, and nothing is wrong
	verdicts  = iota
)

// String gives the verdict in words.
func (v Verdict) String() string {
	if int(v) < verdicts {
		return [verdicts]string{"cannot say yet", "wait", "surface inhibits", "batch bad", "fine"}[v]
	}
	return "no verdict"
}

// Thresholds of the verdicts, on the safe side of what each leads to. Assumptions.
const (
	// Condemned is the probability from which surface or batch is given up: scraping off a mold that would have
	// cured costs more than one more touch.
	Condemned = 0.95
	// Cleared is the probability of nothing wrong from which firm things are called fine.
	Cleared = 0.90
	// HardlyAgainst is the Bayes factor against nothing wrong below which tacky things are let wait; Kass and
	// Raftery (1995) call evidence below 3 not worth more than a bare mention.
	HardlyAgainst = 3.0
)

// latePlace is the standard normal quantile of 90 %: past it, nine in ten are firm.
const latePlace = 1.2815515655446004

// Seen is the last that was found of a thing.
type Seen struct {
	Touched bool
	Found   Finding
	LnAge   float64
	Spoiled bool // its face was seen spoiled at any time
	Due     Due
}

// Due is where an age lies against the need of a good batch on a clean surface.
type Due uint8

const (
	BeforeTime Due = iota // less than one in ten are firm
	NearTime              // between
	PastTime              // nine in ten are firm, even by the least age that gaps leave
)

// Judgement is the answer at the last finding.
type Judgement struct {
	Prior   Probabilities // before anything was touched
	P       Probabilities // after
	Verdict Verdict
	Seen    [things]Seen // by Thing
	// Contradicts tells that no hypothesis allows what was found; P is then the prior.
	Contradicts bool
	// Unvouched tells that the earlier patch passed in a warmer place and does not vouch here.
	Unvouched bool

	failedPatch bool
	causes      []string
}

// Judge weighs the findings. Errors name the finding, spread or prior that cannot be.
func (c Case) Judge() (Judgement, error) {
	if err := c.validate(); err != nil {
		return Judgement{}, err
	}
	return c.judge(), nil
}

// judge weighs findings known to be possible.
func (c Case) judge() Judgement {
	spread, p := c.Spread.settled(), c.priors()
	j := Judgement{
		Prior: p.of(c.Surface, c.ColdK), Seen: c.seen(spread, p.GelShare), causes: p.Causes(),
		failedPatch: c.Surface.Patch == Failed,
		Unvouched:   c.Surface.Patch == Passed && !c.Surface.Vouched(c.ColdK),
	}
	posterior, _, ok := j.Prior.update(c.weigh(spread, &p).likelihood())
	j.P, j.Contradicts = posterior, !ok
	j.Verdict = j.decide()
	return j
}

// seen picks the last finding of every thing: the one of the greatest age, the worst of equals.
func (c Case) seen(spread Spread, gelShare float64) (out [things]Seen) {
	for _, k := range c.Checks {
		s := &out[k.Of]
		s.Spoiled = s.Spoiled || k.Found == Spoiled
		due := spread.due(k, gelShare)
		switch {
		case !s.Touched || k.LnAge > s.LnAge || k.LnAge == s.LnAge && k.Found > s.Found:
			s.Touched, s.Found, s.LnAge, s.Due = true, k.Found, k.LnAge, due
		case k.LnAge == s.LnAge && k.Found == s.Found:
			s.Due = max(s.Due, due)
		}
	}
	return out
}

// due places an age against the band of the need.
func (s Spread) due(k Check, gelShare float64) Due {
	edge := latePlace * s.total(k.Of)
	switch {
	case k.age(-1, gelShare) > edge:
		return PastTime
	case k.age(1, gelShare) < -edge:
		return BeforeTime
	}
	return NearTime
}

// decide picks the verdict.
func (j *Judgement) decide() Verdict {
	switch {
	case j.Contradicts:
	case j.P.Batch() >= Condemned:
		return BadBatch
	case j.P.Surface() >= Condemned:
		return Inhibited
	case j.failedPatch:
	case j.allFirm() && j.P[NothingWrong] >= Cleared:
		return Fine
	case j.mayWait():
		return Wait
	}
	return CannotSay
}

// allFirm reports whether something poured was last found firm, and nothing spoiled or soft since. A soft
// finding counts no more when it was not past its time and something poured was firm at a greater age.
func (j *Judgement) allFirm() bool {
	firm, poured := math.Inf(-1), false
	for _, s := range j.Seen[Patch:] {
		if s.Touched && s.Found == Firm {
			firm, poured = max(firm, s.LnAge), true
		}
	}
	for _, s := range j.Seen {
		outdated := s.Due != PastTime && s.LnAge < firm
		if s.Spoiled || s.Touched && s.Found.soft() && !outdated {
			return false
		}
	}
	return poured
}

// mayWait reports whether something is not firm yet, nothing is past its time, spoiled or behind its cup,
// and the findings speak less than HardlyAgainst to one against nothing being wrong.
func (j *Judgement) mayWait() bool {
	soft := false
	for of, s := range j.Seen {
		if s.Spoiled {
			return false
		}
		if s.Touched && s.Found.soft() {
			if s.Due == PastTime || j.behindCup(Thing(of)) {
				return false
			}
			soft = true
		}
	}
	return soft && j.against() < HardlyAgainst
}

// behindCup reports whether a thing was soft at an age at which its cup was firm.
func (j *Judgement) behindCup(of Thing) bool {
	cup := j.Seen[Cup]
	return of != Cup && cup.Touched && cup.Found == Firm && cup.LnAge <= j.Seen[of].LnAge
}

// against is the Bayes factor of the findings against nothing being wrong.
func (j *Judgement) against() float64 {
	odds := func(p Probabilities) float64 { return (1 - p[NothingWrong]) / p[NothingWrong] }
	prior := odds(j.Prior)
	if prior == 0 {
		return 0
	}
	if math.IsInf(prior, 1) {
		return math.Inf(1)
	}
	return odds(j.P) / prior
}
