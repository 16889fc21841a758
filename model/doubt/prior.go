package doubt

import (
	"errors"
	"fmt"
	"math"
)

// Prep is what is known of the surface before anything was touched.
type Prep uint8

const (
	Untold      Prep = iota // bare, or nobody said
	Sealed                  // nothing risky known, sealed, the sealer dry
	Risky                   // one of the materials in [RiskyMaterials], bare
	RiskySealed             // the same under a sealer that is dry
	preps       = iota
)

// String gives the maker's word.
func (p Prep) String() string {
	if int(p) < preps {
		return [preps]string{"untold", "sealed", "known risky", "known risky, sealed"}[p]
	}
	return fmt.Sprintf("prep %d", uint8(p))
}

// Outcome is how an earlier patch of another batch ended on this surface with this prep and material.
type Outcome uint8

const (
	NoPatch  Outcome = iota // none was made
	Passed                  // firm while its own cup was firm
	Failed                  // tacky or spoiled while its own cup was firm
	outcomes = iota
)

// Surface is what the rubber was poured on.
type Surface struct {
	Prep       Prep
	Patch      Outcome
	PatchColdK float64 // how far below the reference temperature that patch was, K
}

func (s Surface) validate() error {
	if int(s.Prep) >= preps || int(s.Patch) >= outcomes {
		return fmt.Errorf("surface prep %d with patch outcome %d is not known", s.Prep, s.Patch)
	}
	return nil
}

// Vouched reports whether an earlier patch passed and vouches at this cold: it saw a temperature no
// more than VouchMarginK warmer.
func (s Surface) Vouched(coldK float64) bool {
	return s.Patch == Passed && coldK <= max(0, s.PatchColdK)+VouchMarginK
}

// VouchMarginK is how much colder than its patch a mold may be and still be vouched for, K. Assumption.
const VouchMarginK = 2.0

// Delay is by how much an inhibited or spoiled cure that does end is late: 2^(k/2) times, every whole k
// from Least to Most alike.
type Delay struct{ Least, Most int }

// maxDelay bounds a Delay, in half doublings: 32 times.
const maxDelay = 10

// Priors are the rates the judgement starts from, each a probability unless said otherwise. All can be
// replaced by what a shop has counted for itself.
type Priors struct {
	Surface      [preps]float64 // the surface inhibits, at its reference temperature, by Prep
	FailedPatch  float64        // the surface inhibits after its patch failed
	VouchFactor  float64        // factor on the odds of inhibition after a patch that vouches
	ColdDoublesK float64        // cold that doubles the odds of inhibition, K
	ColdMostK    float64        // cold beyond which they grow no more, K

	Ratio        float64 // the batch is bad: parts not weighed or measured right
	Mixing       float64 // the batch is bad: parts not mixed through
	Aged         float64 // the batch is bad: a part too old, or spoiled by air or water
	Contaminated float64 // the batch is bad: poisoned by its cup, tools, gloves or pigment
	CupAlone     float64 // the cup's leftover is off, but not what was poured

	SurfaceNever float64 // an inhibiting surface lets the rubber never cure
	SurfaceDelay Delay   // else it is late by this
	BatchNever   float64 // a bad batch never cures
	BatchDelay   Delay   // else it is late by this

	PatchShows  float64 // an inhibiting surface shows at the patch
	EdgeShows   float64 // it shows at the mold's edge, which is not the face
	FalseFirm   float64 // a touch finds firm what is not
	GelShare    float64 // share of its need after which nothing is liquid any more, 0 to 1
	SpoilsBad   float64 // a face on an inhibiting place is seen spoiled
	SpoilsClean float64 // a clean one is taken for spoiled (air, dust, too much release)
}

// DefaultPriors returns the built-in rates. Every one is an assumption: a judgement by what mold makers
// report, stated so that it can be challenged; none was counted.
func DefaultPriors() Priors {
	return Priors{
		Surface:      [preps]float64{Untold: 0.20, Sealed: 0.05, Risky: 0.60, RiskySealed: 0.15}, // assumption
		FailedPatch:  0.95,                                                                       // assumption
		VouchFactor:  0.05,                                                                       // assumption: a patch misses one in twenty
		ColdDoublesK: 8,                                                                          // assumption: mild contaminants begin to inhibit in the cold
		ColdMostK:    10,                                                                         // assumption: no one has seen further

		Ratio: 0.015, Mixing: 0.015, Aged: 0.005, Contaminated: 0.01, // assumptions
		CupAlone: 0.01, // assumption

		SurfaceNever: 0.7, SurfaceDelay: Delay{Least: 2, Most: 6}, // assumption: poisoned mostly for good, else 2 to 8 times
		BatchNever: 0.5, BatchDelay: Delay{Least: 2, Most: 6}, // assumption

		PatchShows: 0.95, EdgeShows: 0.75, // assumptions
		FalseFirm: 0.02,                   // assumption
		GelShare:  0.5,                    // assumption, on the long side so that liquid says no more than it must
		SpoilsBad: 0.5, SpoilsClean: 0.04, // assumptions
	}
}

// Causes lists why a batch may be bad in maker's words, the most probable first.
func (p Priors) Causes() []string {
	type cause struct {
		word string
		rate float64
	}
	all := []cause{
		{"the ratio of the parts", p.Ratio},
		{"the mixing, down to walls and bottom", p.Mixing},
		{"what touched it: cup, tools, gloves, pigment", p.Contaminated},
		{"the age of the parts and how they were kept", p.Aged},
	}
	words := make([]string, 0, len(all))
	for len(all) > 0 {
		first := 0
		for i, c := range all {
			if c.rate > all[first].rate {
				first = i
			}
		}
		words = append(words, all[first].word)
		all = append(all[:first], all[first+1:]...)
	}
	return words
}

// batch is the probability that any of the causes spoiled the batch.
func (p Priors) batch() float64 {
	return 1 - (1-p.Ratio)*(1-p.Mixing)*(1-p.Aged)*(1-p.Contaminated)
}

// surface is the probability that the surface inhibits, by prep, cold and earlier patch.
func (p Priors) surface(s Surface, coldK float64) float64 {
	if s.Patch == Failed {
		return p.FailedPatch
	}
	rate := p.Surface[s.Prep]
	factor := math.Exp2(min(max(coldK, 0), p.ColdMostK) / p.ColdDoublesK)
	if s.Vouched(coldK) {
		factor = p.VouchFactor // at the cold it saw
	}
	return rate * factor / (1 - rate + rate*factor)
}

// of returns the prior of every hypothesis.
func (p Priors) of(s Surface, coldK float64) Probabilities {
	bad, inhibits := p.batch(), p.surface(s, coldK)
	good := (1 - bad) * (1 - p.CupAlone)
	return Probabilities{
		NothingWrong:    good * (1 - inhibits),
		SurfaceInhibits: good * inhibits,
		BatchBad:        bad * (1 - inhibits),
		BothWrong:       bad * inhibits,
		OnlyCup:         (1 - bad) * p.CupAlone,
	}
}

func (p Priors) validate() error {
	rates := append(p.Surface[:], p.FailedPatch, p.Ratio, p.Mixing, p.Aged, p.Contaminated, p.CupAlone,
		p.SurfaceNever, p.BatchNever, p.PatchShows, p.EdgeShows, p.FalseFirm, p.SpoilsBad, p.SpoilsClean)
	for _, r := range rates {
		if !(r >= 0 && r <= 1) {
			return fmt.Errorf("prior %g is not a probability", r)
		}
	}
	for _, d := range []Delay{p.SurfaceDelay, p.BatchDelay} {
		if d.Least < 0 || d.Most < d.Least || d.Most > maxDelay {
			return fmt.Errorf("delay of %d to %d half doublings; it must rise within 0 to %d", d.Least, d.Most, maxDelay)
		}
	}
	switch {
	case !(p.VouchFactor > 0 && p.VouchFactor <= 1):
		return fmt.Errorf("a patch that vouches multiplies the odds by %g; it must be above 0 and at most 1", p.VouchFactor)
	case !(p.ColdDoublesK >= 0.1) || !(p.ColdMostK >= 0 && p.ColdMostK <= 100):
		return errors.New("the cold that doubles the odds must be at least 0.1 K, and the most that counts 0 to 100 K")
	case !(p.GelShare > 0 && p.GelShare <= 1):
		return fmt.Errorf("gel at %g of the need; it must be above 0 and at most 1", p.GelShare)
	}
	return nil
}
