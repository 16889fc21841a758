package model

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"pourward/model/mix"
)

// Batch is what was weighed into one cup, as far as the maker told.
type Batch struct {
	Parts     []Portion `json:"parts,omitempty"`     // in the order of the product's recipe; none = not told
	Additives []Portion `json:"additives,omitempty"` // thixotropic additive, pigment, retarder, accelerator
	Lot       string    `json:"lot,omitempty"`       // of the product; empty = not told
	From      string    `json:"from,omitempty"`      // the place where the parts stood, whose probe tells how warm they were
}

// Portion is one thing weighed.
type Portion struct {
	Name   string  `json:"name"`
	Grams  float64 `json:"grams"`
	Factor float64 `json:"factor,omitempty"` // of an additive: on working life and demold time, as its maker gives it; 0 = leaves them
	From   string  `json:"from,omitempty"`   // the place where it stood, if elsewhere than the rest of the batch
}

// Told reports whether anything was told of the batch.
func (b Batch) Told() bool {
	return len(b.Parts) > 0 || len(b.Additives) > 0 || b.Lot != "" || b.From != ""
}

// All is everything weighed: parts, then additives.
func (b Batch) All() []Portion { return slices.Concat(b.Parts, b.Additives) }

// TotalGrams is the weight of all of it, g.
func (b Batch) TotalGrams() float64 {
	sum := 0.0
	for _, p := range b.All() {
		sum += p.Grams
	}
	return sum
}

// TimeFactor is what the additives together do to working life and demold time; see [mix.Recipe.TimeFactor].
func (b Batch) TimeFactor() float64 {
	var r mix.Recipe
	for _, a := range b.Additives {
		r.Additives = append(r.Additives, mix.Additive{TimeFactor: a.Factor})
	}
	return r.TimeFactor()
}

// Limits of a batch; beyond them a number is a slip of the pen. Assumptions, wide on purpose.
const (
	mostPortions = 12
	mostGrams    = 1e6
	mostFactor   = 20.0
	leastFactor  = 1 / mostFactor
)

// check says in a sentence what is wrong with the weights.
func (b Batch) check() error {
	seen := map[string]bool{}
	for i, p := range b.All() {
		switch {
		case i >= mostPortions:
			return fmt.Errorf("a batch has room for %d things: put what is alike together", mostPortions)
		case strings.TrimSpace(p.Name) == "":
			return fmt.Errorf("a weight of %g g has no name: say of which part or additive it is", p.Grams)
		case seen[p.Name]:
			return fmt.Errorf("%q was weighed twice: give the sum", p.Name)
		case !(p.Grams > 0 && p.Grams <= mostGrams):
			return fmt.Errorf("%q cannot weigh %g g: give more than 0, and at most %g g", p.Name, p.Grams, mostGrams)
		case p.Factor != 0 && !(p.Factor >= leastFactor && p.Factor <= mostFactor):
			return fmt.Errorf("%q cannot make times %g-fold: give %g to %g", p.Name, p.Factor, leastFactor, mostFactor)
		case p.Factor != 0 && i < len(b.Parts):
			return fmt.Errorf("%q is a part, and parts have no factor on the times: list it among the additives", p.Name)
		}
		seen[p.Name] = true
	}
	return nil
}

// ParsePortions reads weights as a maker writes them: "A 100 g, B 10 g", and for additives a factor on the
// times where their maker gives one: "retarder 2 g x1.5". A part that stood elsewhere than the rest names
// its place: "A 100 g from warm box". Nothing is no weights.
func ParsePortions(text string) ([]Portion, error) {
	var out []Portion
	for _, item := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		if strings.TrimSpace(item) == "" {
			continue
		}
		p, err := parsePortion(strings.Fields(item))
		if err != nil {
			return nil, fmt.Errorf("cannot read the weight %q: %w", strings.TrimSpace(item), err)
		}
		out = append(out, p)
	}
	return out, nil
}

func parsePortion(words []string) (Portion, error) {
	var p Portion
	if i := slices.Index(words, "from"); i > 0 {
		if p.From, words = strings.Join(words[i+1:], " "), words[:i]; p.From == "" {
			return p, fmt.Errorf("behind from stands the place where it stood, such as A 100 g from shelf")
		}
	}
	if last := words[len(words)-1]; len(words) > 1 && strings.HasPrefix(last, "x") {
		if f, err := strconv.ParseFloat(last[1:], 64); err == nil {
			p.Factor, words = f, words[:len(words)-1]
		}
	}
	if words[len(words)-1] == "g" {
		words = words[:len(words)-1]
	}
	if len(words) < 2 {
		return p, fmt.Errorf("write name and grams, such as A 100 g")
	}
	last := words[len(words)-1]
	grams, err := strconv.ParseFloat(strings.TrimSuffix(last, "g"), 64)
	if err != nil {
		return p, fmt.Errorf("%q is no number of grams: write name and grams, such as A 100 g", last)
	}
	p.Name, p.Grams = strings.Join(words[:len(words)-1], " "), grams
	return p, nil
}

// PortionsText writes weights as [ParsePortions] reads them.
func PortionsText(all []Portion) string {
	items := make([]string, len(all))
	for i, p := range all {
		items[i] = p.Name + " " + strconv.FormatFloat(p.Grams, 'f', -1, 64) + " g"
		if p.Factor != 0 {
			items[i] += " x" + strconv.FormatFloat(p.Factor, 'f', -1, 64)
		}
		if p.From != "" {
			items[i] += " from " + p.From
		}
	}
	return strings.Join(items, ", ")
}
