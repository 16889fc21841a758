package model

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"pourward/model/material"
	"pourward/model/mix"
)

// BatchWant is what a batch is wanted for. One of Grams, MilliLiters and UseUp must be told.
type BatchWant struct {
	Grams       float64        // of all of it, additives included
	MilliLiters float64        // to fill
	Waste       float64        // for what stays in the cup and on the brush: a share of what a volume needs
	UseUp       Portion        // a part, and the grams left of it
	Additives   []mix.Additive //
	Ratio       []mix.Part     // of the product at hand, where the material is a class and states none
	Tolerance   float64        // of that ratio; 0 = not told
	Cup         mix.Cup        // what it is mixed in; zero = not told, one cup for all
	Scale       mix.Scale      // zero = not told
	Way         mix.Weighing   //
}

// ToWeigh is what to weigh out. Where it takes several cups, each is a batch of its own.
type ToWeigh struct {
	Recipe      mix.Recipe
	TotalGrams  float64 // of all cups
	MilliLiters float64 // of all cups; 0 = no density is known
	Cups        int
	HeightMM    float64 // of the mix in a cup; 0 = not known
	Each        mix.Batch
	Aim         *mix.Aim       // in numbers that the display shows; nil = no scale was told
	Off         float64        // by how much the ratio may be off in all, relative; 0 = not known, or ready mixed
	Least       float64        // the smallest batch that holds the tolerance on this scale, g; 0 = none or not known
	Coarse      *mix.TooCoarse // why the scale cannot hold the ratio; nil = it can, or nobody can tell
	Unjudged    string         // why the scale was not judged; empty = it was
}

// recipe is the material's, with what the want adds.
func (w BatchWant) recipe(of material.Material) (mix.Recipe, error) {
	r := RecipeOf(of)
	switch {
	case len(w.Ratio) == 0:
	case len(of.Mixing.Parts) > 0:
		return r, fmt.Errorf("%s has its ratio in the file of materials: leave the ratio out, or correct it there", of.Name)
	case !anyProduct(of):
		return r, fmt.Errorf("%s comes ready mixed and has no ratio: leave the ratio out, or write its mix into the file of materials", of.Name)
	default:
		r.Parts, r.Tolerance = w.Ratio, w.Tolerance
	}
	r.Additives = w.Additives
	return r, r.Check()
}

// WeighOut tells what to weigh out of a material. The error is a sentence for the maker.
func WeighOut(of material.Material, w BatchWant) (ToWeigh, error) {
	r, err := w.recipe(of)
	if err != nil {
		return ToWeigh{}, err
	}
	out := ToWeigh{Recipe: r, Cups: 1}
	density := of.GramsPerML
	if own, err := r.GramsPerML(); err == nil && len(r.Parts) > 1 {
		density = own
	}
	all, err := w.batch(of, r, density)
	if err != nil {
		return ToWeigh{}, err
	}
	out.TotalGrams = all.TotalGrams
	if density > 0 {
		out.MilliLiters = all.TotalGrams / density
	}
	if w.Cup != (mix.Cup{}) {
		if density == 0 {
			return ToWeigh{}, noDensity(of)
		}
		filled, err := w.Cup.Split(out.MilliLiters)
		if err != nil {
			return ToWeigh{}, err
		}
		out.Cups, out.HeightMM = filled.Cups, filled.HeightMM
	}
	if out.Each, err = r.Batch(all.TotalGrams / float64(out.Cups)); err != nil {
		return ToWeigh{}, err
	}
	return out, out.judge(of, w)
}

func noDensity(of material.Material) error {
	return fmt.Errorf("no density of %s is known, so a volume cannot be weighed: take it from the data sheet into the file of materials, or give grams", of.Name)
}

// batch is everything wanted, in one.
func (w BatchWant) batch(of material.Material, r mix.Recipe, density float64) (mix.Batch, error) {
	told := 0
	for _, is := range []bool{w.Grams != 0, w.MilliLiters != 0, w.UseUp != Portion{}} {
		if is {
			told++
		}
	}
	switch {
	case told == 0:
		return mix.Batch{}, errors.New("say how much: grams in all, a volume in mL, or a part to use up")
	case told > 1:
		return mix.Batch{}, errors.New("say how much in one way only: grams in all, a volume in mL, or a part to use up")
	case w.Grams != 0:
		return r.Batch(w.Grams)
	case w.UseUp != Portion{}:
		name := w.UseUp.Name
		if i := part(of, name); i >= 0 {
			name = of.Mixing.Parts[i].Name
		}
		return r.FromPart(name, w.UseUp.Grams)
	case density == 0:
		return mix.Batch{}, noDensity(of)
	}
	grams, err := mix.Grams(w.MilliLiters, density, w.Waste)
	if err != nil {
		return mix.Batch{}, err
	}
	return r.Batch(grams)
}

// judge holds one cup against the scale.
func (t *ToWeigh) judge(of material.Material, w BatchWant) error {
	if w.Scale == (mix.Scale{}) {
		t.Unjudged = "no scale was told, so nobody can say whether it holds the ratio"
		return nil
	}
	aim, err := w.Scale.Aim(t.Each, w.Way)
	if err == nil {
		t.Aim = &aim
	}
	switch {
	case len(t.Recipe.Parts) == 1 && anyProduct(of):
		t.Unjudged = "each product of this class has its own ratio: give that of yours"
		return err
	case len(t.Recipe.Parts) == 1:
		t.Unjudged = "it comes ready mixed, so there is no ratio to hold"
		return err
	case t.Recipe.Tolerance == 0:
		t.Unjudged = "the ratio has no tolerance to hold: take it from the data sheet"
		return err
	}
	if t.Aim != nil {
		e, err := w.Scale.RatioError(t.Each, w.Way)
		if err != nil {
			return err
		}
		t.Off = e.Rel() + t.Aim.Deviation
	}
	t.Least = least(w.Scale, t.Recipe, w.Way)
	if err := w.Scale.Hold(t.Recipe, t.Each.TotalGrams, w.Way); err != nil && !errors.As(err, &t.Coarse) {
		return err
	}
	return nil
}

// least is the smallest batch that a scale holds, in weights that its display shows; 0 = none.
func least(s mix.Scale, r mix.Recipe, way mix.Weighing) float64 {
	grams, err := s.Smallest(r, way)
	if err != nil {
		return 0
	}
	var coarse *mix.TooCoarse
	switch err := s.Hold(r, grams, way); {
	case err == nil:
		return math.Ceil(grams/s.StepGrams-1e-9) * s.StepGrams
	case errors.As(err, &coarse):
		return coarse.MixGrams
	}
	return 0
}

// Portions are the weights to mark once they were weighed: as the display shows them, else exact.
func (t ToWeigh) Portions() (parts, additives []Portion) {
	for i, w := range t.Each.Parts {
		if t.Aim != nil {
			w.Grams = t.Aim.Weights[i].Grams
		}
		parts = append(parts, Portion{Name: w.Name, Grams: rounded(w.Grams)})
	}
	for i, w := range t.Each.Additives {
		if t.Aim != nil {
			w.Grams = t.Aim.Weights[len(t.Each.Parts)+i].Grams
		}
		if w.Grams > 0 {
			additives = append(additives, Portion{Name: w.Name, Grams: rounded(w.Grams), Factor: t.Recipe.Additives[i].TimeFactor})
		}
	}
	return parts, additives
}

// rounded takes out what binary numbers add, to the milligram.
func rounded(grams float64) float64 {
	g, _ := strconv.ParseFloat(strconv.FormatFloat(grams, 'f', 3, 64), 64) // our own digits
	return g
}

// BatchML is the volume that a mold's design asks to mix in one go, and what it is for: around the pattern
// in its box, or one brushed layer. The error says in a sentence what is not told.
func (d Design) BatchML() (milliLiters float64, what string, err error) {
	if d.Method.Layered() || d.LengthMM == 0 && d.AreaCM2 > 0 {
		if d.AreaCM2 == 0 || d.LayerMM == 0 {
			return 0, "", errors.New("the face to brush or the thickness of a layer is not told: give both, or grams")
		}
		ml, err := mix.Brushed{AreaCM2: d.AreaCM2, ThicknessMM: d.LayerMM, Layers: 1}.MilliLiters()
		what = "a layer"
		if d.Layers > 1 {
			what = fmt.Sprintf("one of %d layers", d.Layers)
		}
		return ml, what, err
	}
	if d.LengthMM == 0 || d.WidthMM == 0 || d.DepthMM == 0 {
		return 0, "", errors.New("the size of the mold is not told: give length, width and depth of its box, or grams")
	}
	ml, err := mix.Box{LengthMM: d.LengthMM, WidthMM: d.WidthMM, DepthMM: d.DepthMM, PatternML: d.PatternML}.MilliLiters()
	return ml, "the box around the pattern", err
}

// ParseShares reads additives as a maker writes them: "thixotropic 1 %, retarder 2 % of B x1.5". Nothing is
// none.
func ParseShares(text string) ([]mix.Additive, error) {
	var out []mix.Additive
	for _, item := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		if strings.TrimSpace(item) == "" {
			continue
		}
		a, err := parseShare(strings.Fields(strings.ReplaceAll(item, "%", " % ")))
		if err != nil {
			return nil, fmt.Errorf("cannot read the additive %q: write name and share, such as thixotropic 1 %%, or retarder 2 %% of B x1.5", strings.TrimSpace(item))
		}
		out = append(out, a)
	}
	return out, nil
}

func parseShare(words []string) (a mix.Additive, err error) {
	percent := -1
	for i, w := range words {
		if w == "%" {
			percent = i
		}
	}
	if percent < 2 {
		return a, errors.New("no share")
	}
	share, err := strconv.ParseFloat(words[percent-1], 64)
	if err != nil {
		return a, err
	}
	a.Name, a.Share = strings.Join(words[:percent-1], " "), share/100
	rest := words[percent+1:]
	if n := len(rest); n > 0 && strings.HasPrefix(rest[n-1], "x") {
		if a.TimeFactor, err = strconv.ParseFloat(rest[n-1][1:], 64); err != nil {
			return a, err
		}
		rest = rest[:n-1]
	}
	switch {
	case len(rest) == 0:
		return a, nil
	case len(rest) == 1 || rest[0] != "of":
		return a, errors.New("no share")
	}
	a.Of = strings.Join(rest[1:], " ")
	return a, nil
}
