// Package mix says what to weigh out: the weights of a batch, and whether the scale can hold its ratio.
package mix

import (
	"fmt"
	"math"
)

// Basis is what the numbers of a mix ratio count.
type Basis uint8

const (
	ByWeight Basis = iota // the usual one: scales are surer than cups
	ByVolume              // turned into weights by the parts' densities
)

// String gives the basis as a data sheet writes it.
func (b Basis) String() string {
	switch b {
	case ByWeight:
		return "by weight"
	case ByVolume:
		return "by volume"
	}
	return fmt.Sprintf("basis %d", uint8(b))
}

// Part is one component of a mix.
type Part struct {
	Name       string
	Ratio      float64 // its parts in the ratio, above 0: the 10 of 10:1; 0 where the product comes ready mixed
	GramsPerML float64 // density; 0 = not stated, which a ratio by volume cannot do with
	JPerGramK  float64 // specific heat; 0 = not stated
}

// Additive is what goes into a mix beside its parts: thixotropic additive, pigment, retarder, accelerator.
type Additive struct {
	Name       string
	Share      float64 // grams in each gram of what it is a share of, above 0 to 1; 0.01 for 1 %
	Of         string  // the part it is a share of; empty = all parts together, without additives
	GramsPerML float64 // density; 0 = not stated
	TimeFactor float64 // on working life and demold time as its maker gives it for this share; 0 = leaves them
}

// BrushableShare is the share of thixotropic additive that makes most pourable rubbers brushable: common
// practice, no source. The additive's own data sheet is better.
const BrushableShare = 0.01

// Recipe is how a material is mixed. One part alone stands for a material that comes ready mixed.
type Recipe struct {
	Parts     []Part
	Basis     Basis
	Tolerance float64 // relative error that the ratio of any two parts may have, 0 to below 1; 0 = not stated
	Additives []Additive
}

// Limits beyond which a number is a slip of the pen. Assumptions, wide on purpose.
const (
	mostGramsPerML = 25.0   // above every metal powder a rubber is filled with
	mostJPerGramK  = 10.0   // above water, 4.2
	slowestFactor  = 100.0  // a retarder cannot do more
	fastestFactor  = 0.01   // nor an accelerator
	mostRatio      = 1000.0 // parts of one for a part of another
)

// Check says what in the recipe cannot be and how to correct it.
func (r Recipe) Check() error {
	if err := r.checkRatio(); err != nil {
		return fmt.Errorf("mix ratio: %w", err)
	}
	for _, p := range r.Parts {
		if err := p.check(r.Basis); err != nil {
			return fmt.Errorf("part %q: %w", p.Name, err)
		}
	}
	if !(r.Tolerance >= 0 && r.Tolerance < 1) {
		return fmt.Errorf("a ratio tolerance of %g cannot be: give a share of 1, as 0.02 for 2 %%, or 0 where none is stated", r.Tolerance)
	}
	return r.checkAdditives()
}

func (r Recipe) checkRatio() error {
	switch {
	case r.Basis > ByVolume:
		return fmt.Errorf("%v is unknown: say by weight or by volume", r.Basis)
	case len(r.Parts) == 0:
		return fmt.Errorf("nothing is in it: name the parts, as A and B")
	case len(r.Parts) == 1:
		if p := r.Parts[0]; p.Ratio != 0 {
			return fmt.Errorf("%q comes ready mixed and has no ratio: leave the ratio out, or name the second part", p.Name)
		}
		return nil
	}
	least, most := math.Inf(1), 0.0
	names := map[string]bool{}
	for _, p := range r.Parts {
		switch {
		case p.Name == "":
			return fmt.Errorf("a part has no name: call it as its container does, as A or B")
		case names[p.Name]:
			return fmt.Errorf("two parts are called %q: give each its own name", p.Name)
		case !above0(p.Ratio):
			return fmt.Errorf("%g parts of %q cannot be: give a number above 0, as the 10 and the 1 of 10:1", p.Ratio, p.Name)
		}
		names[p.Name] = true
		least, most = min(least, p.Ratio), max(most, p.Ratio)
	}
	if most/least > mostRatio {
		return fmt.Errorf("%g to %g is beyond %g to 1: compare it with the data sheet", most, least, mostRatio)
	}
	return nil
}

func (p Part) check(basis Basis) error {
	switch {
	case !stated(p.GramsPerML, mostGramsPerML):
		return fmt.Errorf("a density of %g g/mL cannot be: give one above 0 to %g, or 0 where none is stated", p.GramsPerML, mostGramsPerML)
	case !stated(p.JPerGramK, mostJPerGramK):
		return fmt.Errorf("a specific heat of %g J/(g K) cannot be: give one above 0 to %g, or 0 where none is stated", p.JPerGramK, mostJPerGramK)
	case basis == ByVolume && p.Ratio > 0 && p.GramsPerML == 0:
		return fmt.Errorf("a ratio by volume cannot be weighed without a density: take it from the data sheet, or weigh a full measure of the part")
	}
	return nil
}

func (r Recipe) checkAdditives() error {
	names := map[string]bool{}
	for _, p := range r.Parts {
		names[p.Name] = true
	}
	for _, a := range r.Additives {
		switch {
		case a.Name == "" || names[a.Name]:
			return fmt.Errorf("an additive is called %q: give it a name that nothing else in the mix has", a.Name)
		case a.Of != "" && !r.hasPart(a.Of):
			return fmt.Errorf("additive %q is a share of %q, which is no part of the mix: name a part, or none for all parts together", a.Name, a.Of)
		case !(a.Share > 0 && a.Share <= 1):
			return fmt.Errorf("additive %q: a share of %g cannot be: give one above 0 to 1, as 0.01 for 1 %%", a.Name, a.Share)
		case !stated(a.GramsPerML, mostGramsPerML):
			return fmt.Errorf("additive %q: a density of %g g/mL cannot be: give one above 0 to %g, or 0 where none is stated", a.Name, a.GramsPerML, mostGramsPerML)
		case a.TimeFactor != 0 && !(a.TimeFactor >= fastestFactor && a.TimeFactor <= slowestFactor):
			return fmt.Errorf("additive %q: a factor of %g on the times cannot be: give one of %g to %g, 2 for twice as long, or 0 where it leaves them", a.Name, a.TimeFactor, fastestFactor, slowestFactor)
		}
		names[a.Name] = true
	}
	return nil
}

func (r Recipe) hasPart(name string) bool {
	for _, p := range r.Parts {
		if p.Name == name {
			return true
		}
	}
	return false
}

// TimeFactor is what the additives together do to working life and demold time: the product of their
// factors, an assumption where there are several, since makers state each alone.
func (r Recipe) TimeFactor() float64 {
	factor := 1.0
	for _, a := range r.Additives {
		if a.TimeFactor > 0 {
			factor *= a.TimeFactor
		}
	}
	return factor
}

// byWeight gives the parts of the ratio in weights, adding up to 1. The recipe must have passed Check.
func (r Recipe) byWeight() []float64 {
	shares, sum := make([]float64, len(r.Parts)), 0.0
	for i, p := range r.Parts {
		shares[i] = p.Ratio
		switch {
		case len(r.Parts) == 1:
			shares[i] = 1
		case r.Basis == ByVolume:
			shares[i] *= p.GramsPerML
		}
		sum += shares[i]
	}
	for i := range shares {
		shares[i] /= sum
	}
	return shares
}

// above0 reports whether v is a number above 0 that something can weigh.
func above0(v float64) bool { return v > 0 && !math.IsInf(v, 1) }

// stated reports whether v is 0, which says nothing, or above 0 up to most.
func stated(v, most float64) bool { return v >= 0 && v <= most }
