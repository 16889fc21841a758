package page

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"pourward/model"
	"pourward/model/material"
	"pourward/model/mix"
)

// weighView is what to weigh for a mold that is not mixed yet: the question as it was typed, and the answer.
type weighView struct {
	Action                     string
	Grams, ML, Waste           string
	Additives, Ratio, CupML    string
	AsksRatio                  bool // each product of the class has its own
	Asked                      bool
	For, Total, Cups           string
	Rows                       []weighRow
	Verdict, Do, Hint, Mistake string
	Holds                      bool
	parts, additives           []model.Portion
}

// weighRow is one thing to weigh.
type weighRow struct{ Name, Grams, Note string }

// usualWaste is what the form allows for cup and brush at first; common practice, no source.
const usualWaste = "10"

// weigh answers what to weigh for a mold; nil once it is poured, or where nothing is planned to be mixed.
func (s *site) weigh(q url.Values, m *model.MoldOutlook) *weighView {
	if !m.Open() || m.Poured {
		return nil
	}
	of, err := s.opts.Shelf.Find(m.Rubber)
	if err != nil || !of.Cures() {
		return nil
	}
	get := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	v := &weighView{
		Action: moldPath(m.Name) + "#weigh", Asked: q.Has("waste"),
		Grams: get("grams"), ML: get("ml"), Waste: get("waste"), Additives: get("additives"), Ratio: get("ratio"), CupML: get("cup_ml"),
		AsksRatio: len(of.Mixing.Parts) == 0,
	}
	design := designOf(m)
	ml, what, err := design.BatchML()
	if !v.Asked {
		v.Waste = usualWaste
		if err != nil {
			return v
		}
		v.ML, v.For = strconv.FormatFloat(ml, 'f', 0, 64), what
	}
	if design.Method.Layered() && v.Additives == "" {
		v.Hint = fmt.Sprintf("To brush it: about %g %% of a thixotropic additive makes most pourable rubbers stay where they are brushed. Common practice, no source; its own data sheet is better.", 100*mix.BrushableShare)
	}
	want, err := v.want(s.opts.Scale)
	if err != nil {
		v.Mistake = sentence(err.Error())
		return v
	}
	told, err := model.WeighOut(of, want)
	if err != nil {
		v.Mistake = sentence(err.Error())
		return v
	}
	v.answer(told, want)
	return v
}

// designOf is how a mold is to be made.
func designOf(m *model.MoldOutlook) model.Design {
	for _, k := range m.Marks {
		if k.Kind == model.Begun {
			return k.Design
		}
	}
	return model.Design{}
}

// want reads what was typed.
func (v *weighView) want(scale mix.Scale) (w model.BatchWant, err error) {
	w.Scale = scale
	for _, n := range []struct {
		what, unit, typed string
		to                *float64
	}{{"grams in all", "g", v.Grams, &w.Grams}, {"volume", "mL", v.ML, &w.MilliLiters}, {"waste", "%", v.Waste, &w.Waste}, {"size of the cup", "mL", v.CupML, &w.Cup.BrimMilliLiters}} {
		if *n.to, err = parseAmount(n.typed, n.unit); err != nil {
			return w, fmt.Errorf("cannot read %q as the %s: %w", n.typed, n.what, err)
		}
	}
	w.Waste /= 100
	if w.Additives, err = model.ParseShares(v.Additives); err != nil {
		return w, err
	}
	ratio, err := model.ParsePortions(v.Ratio)
	if err != nil {
		return w, fmt.Errorf("cannot read the ratio %q: write names and numbers, such as A 10, B 1", v.Ratio)
	}
	for _, p := range ratio {
		w.Ratio = append(w.Ratio, mix.Part{Name: p.Name, Ratio: p.Grams})
	}
	return w, nil
}

// answer puts what to weigh into words.
func (v *weighView) answer(t model.ToWeigh, w model.BatchWant) {
	v.parts, v.additives = t.Portions()
	v.Total = gramWords(t.TotalGrams)
	if t.MilliLiters > 0 {
		v.Total += ", about " + decimal(t.MilliLiters, 0) + nbsp + "mL"
	}
	if t.Cups > 1 {
		v.Cups = fmt.Sprintf("In %d cups, each a batch of its own: weigh each alone. Of each cup:", t.Cups)
	}
	for i, p := range t.Each.Parts {
		v.Rows = append(v.Rows, weightOf(p, t.Aim, i))
	}
	for i, a := range t.Each.Additives {
		v.Rows = append(v.Rows, weightOf(a, t.Aim, len(t.Each.Parts)+i))
	}
	switch {
	case t.Unjudged != "":
		v.Verdict = sentence("scale not judged:", t.Unjudged)
	case t.Coarse != nil:
		v.Verdict, v.Do = "The scale does not hold the ratio.", sentence(t.Coarse.Error())
	default:
		v.Holds = true
		v.Verdict = fmt.Sprintf("The ratio holds: up to %.2g %% off, tolerated %.2g %%. Smallest batch on this scale: %s.", 100*t.Off, 100*t.Recipe.Tolerance, gramWords(t.Least))
	}
}

// weightOf is one weight as the display shows it; where that is another than was meant, that is told.
func weightOf(w mix.Weight, aim *mix.Aim, i int) weighRow {
	if aim == nil {
		return weighRow{Name: w.Name, Grams: gramWords(w.Grams)}
	}
	row := weighRow{Name: w.Name, Grams: gramWords(aim.Weights[i].Grams)}
	if off := aim.Weights[i].Grams/w.Grams - 1; off > noticedShare || off < -noticedShare {
		row.Note = "instead of " + gramWords(w.Grams) + ": take a finer scale for it"
	}
	return row
}

// noticedShare is how far rounding may move a weight before it is told; an assumption.
const noticedShare = 0.1

// gramWords writes a weight to four figures, and whole grams from a kilogram on.
func gramWords(g float64) string {
	if g >= 1000 {
		return decimal(g, 0) + nbsp + "g"
	}
	return strconv.FormatFloat(g, 'g', 4, 64) + nbsp + "g"
}

// batchWords tells in a line what was weighed, and how far off the ratio it was; nothing where nobody told.
func batchWords(b model.Batch, of material.Material) string {
	var items []string
	if text := model.PortionsText(b.All()); text != "" {
		items = append(items, "weighed "+text)
	}
	if off, beyond, ok := model.Off(of, b); ok && beyond {
		items = append(items, fmt.Sprintf("%.2g %% off the ratio, more than is tolerated", 100*off))
	} else if ok {
		items = append(items, fmt.Sprintf("%.2g %% off the ratio", 100*off))
	}
	if b.From != "" {
		items = append(items, "from "+b.From)
	}
	if b.Lot != "" {
		items = append(items, "lot "+b.Lot)
	}
	return strings.Join(items, "; ")
}

// weighedIn is the material that a mark mixed: its own, or the rubber planned.
func (s *site) weighedIn(m *model.MoldOutlook, k model.Mark) material.Material {
	name := k.Material
	if name == "" {
		name = m.Rubber
	}
	of, _ := s.opts.Shelf.Find(name) // what is not on the shelf has no ratio to compare with
	return of
}

// cupWords says when to touch the cup's leftover first; nothing where a touch is advised already.
func (v voice) cupWords(m *model.MoldOutlook) string {
	switch {
	case m.Cup == "" || m.Doubt != nil && m.Doubt.Next != "":
		return ""
	case m.CupAt.IsZero():
		return m.Cup
	case !m.CupAt.After(v.now):
		return "Now: " + m.Cup
	}
	return v.at(m.CupAt) + ": " + m.Cup
}
