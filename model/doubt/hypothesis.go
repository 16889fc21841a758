package doubt

import (
	"fmt"
	"math"
)

// Hypothesis is one account of what was found. They exclude one another, and their probabilities sum to 1.
type Hypothesis uint8

const (
	NothingWrong    Hypothesis = iota // good batch, clean surface: if late, then because it is slow or was cold
	SurfaceInhibits                   // the cup cures in its time, what lies on the surface never or far later
	BatchBad                          // all of it far later or never
	BothWrong                         // a bad batch on a surface that inhibits
	OnlyCup                           // the cup's leftover is off, what was poured is well
	hypotheses      = iota
)

// Hypotheses lists them all.
func Hypotheses() []Hypothesis {
	return []Hypothesis{NothingWrong, SurfaceInhibits, BatchBad, BothWrong, OnlyCup}
}

// String gives the hypothesis in words.
func (h Hypothesis) String() string {
	if int(h) < hypotheses {
		return [hypotheses]string{"nothing wrong", "surface inhibits", "batch bad", "surface and batch", "cup alone"}[h]
	}
	return fmt.Sprintf("hypothesis %d", uint8(h))
}

// Probabilities holds one probability for each hypothesis.
type Probabilities [hypotheses]float64

// Surface is the probability that the surface inhibits, whatever else.
func (p Probabilities) Surface() float64 { return p[SurfaceInhibits] + p[BothWrong] }

// Batch is the probability that the batch is bad, whatever else.
func (p Probabilities) Batch() float64 { return p[BatchBad] + p[BothWrong] }

// Wrong is the probability that surface or batch is at fault: neither slow, nor only the cup.
func (p Probabilities) Wrong() float64 { return p[SurfaceInhibits] + p[BatchBad] + p[BothWrong] }

// Likeliest returns the most probable hypothesis.
func (p Probabilities) Likeliest() Hypothesis {
	best := NothingWrong
	for _, h := range Hypotheses() {
		if p[h] > p[best] {
			best = h
		}
	}
	return best
}

// bits is the entropy, bit.
func (p Probabilities) bits() float64 {
	sum := 0.0
	for _, q := range p {
		if q > 0 {
			sum -= q * math.Log2(q)
		}
	}
	return sum
}

// update is Bayes' rule. ok is false where no hypothesis allows what was found.
func (p Probabilities) update(likelihood Probabilities) (posterior Probabilities, evidence float64, ok bool) {
	for h := range p {
		posterior[h] = p[h] * likelihood[h]
		evidence += posterior[h]
	}
	if !(evidence > 0) || math.IsInf(evidence, 1) {
		return p, 0, false
	}
	for h := range posterior {
		posterior[h] /= evidence
	}
	return posterior, evidence, true
}
