package page

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"pourward/model"
)

// worked is how a mold or patch is made, and what was weighed, as it was typed.
type worked struct {
	Method, Coats, Layers, LayerMM          string // begun
	LengthMM, WidthMM, DepthMM              string
	PatternML, AreaCM2                      string
	Face, Prep, Parts, Additives, Lot, From string
	Film                                    string // coat on, release on
}

func workedFrom(form url.Values, get func(string) string) worked {
	return worked{
		Method: get("method"), Coats: get("coats"), Layers: get("layers"), LayerMM: get("layer_mm"),
		LengthMM: get("length_mm"), WidthMM: get("width_mm"), DepthMM: get("depth_mm"), PatternML: get("pattern_ml"), AreaCM2: get("area_cm2"),
		Face: get("face"), Prep: strings.Join(form["prep"], ","), Parts: get("parts"), Additives: get("additives"), Lot: get("lot"), From: get("from"), Film: get("film_um"),
	}
}

// workedOf is what a mark says as it would be typed.
func workedOf(m model.Mark) worked {
	d := m.Design
	return worked{
		Method: string(d.Method), Coats: countWords(d.Coats), Layers: countWords(d.Layers), LayerMM: mmWords(d.LayerMM),
		LengthMM: mmWords(d.LengthMM), WidthMM: mmWords(d.WidthMM), DepthMM: mmWords(d.DepthMM), PatternML: mmWords(d.PatternML), AreaCM2: mmWords(d.AreaCM2),
		Face: m.Face, Prep: strings.Join(m.Prep, ", "),
		Parts: model.PortionsText(m.Batch.Parts), Additives: model.PortionsText(m.Batch.Additives), Lot: m.Batch.Lot, From: m.Batch.From, Film: mmWords(m.FilmUM),
	}
}

// Designed reports whether anything was typed of how the mold is to be made.
func (w worked) Designed() bool {
	return w.Method+w.Coats+w.Layers+w.LayerMM+w.LengthMM+w.WidthMM+w.DepthMM+w.PatternML+w.AreaCM2 != ""
}

func countWords(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// work reads what was typed into the mark. The error is a sentence for the maker. Whether it fits the mark
// and the shop is judged where the mark is recorded.
func (w worked) work(m *model.Mark) (err error) {
	if m.Design, err = w.design(); err != nil {
		return err
	}
	if m.Batch.Parts, err = model.ParsePortions(w.Parts); err != nil {
		return err
	}
	if m.Batch.Additives, err = model.ParsePortions(w.Additives); err != nil {
		return err
	}
	if m.FilmUM, err = parseAmount(w.Film, "µm"); err != nil {
		return fmt.Errorf("cannot read %q as the thickness of the film: %w", w.Film, err)
	}
	m.Batch.Lot, m.Batch.From, m.Face = w.Lot, w.From, w.Face
	for _, name := range strings.Split(w.Prep, ",") {
		if name = strings.TrimSpace(name); name != "" && name != "bare" {
			m.Prep = append(m.Prep, name)
		}
	}
	return nil
}

func (w worked) design() (d model.Design, err error) {
	if d.Method, err = model.ParseMethod(w.Method); err != nil {
		return d, err
	}
	for _, n := range []struct {
		what, typed string
		to          *int
	}{{"seal coats", w.Coats, &d.Coats}, {"layers", w.Layers, &d.Layers}} {
		if n.typed == "" {
			continue
		}
		if *n.to, err = strconv.Atoi(n.typed); err != nil {
			return d, fmt.Errorf("cannot read %q as a number of %s: write a whole number, such as 3", n.typed, n.what)
		}
	}
	for _, l := range []struct {
		what, unit, typed string
		to                *float64
	}{
		{"thickness of a layer", "mm", w.LayerMM, &d.LayerMM}, {"length of the box", "mm", w.LengthMM, &d.LengthMM},
		{"width of the box", "mm", w.WidthMM, &d.WidthMM}, {"depth of the box", "mm", w.DepthMM, &d.DepthMM},
		{"volume of the pattern", "mL", w.PatternML, &d.PatternML}, {"face to brush", "cm²", w.AreaCM2, &d.AreaCM2},
	} {
		if *l.to, err = parseAmount(l.typed, l.unit); err != nil {
			return d, fmt.Errorf("cannot read %q as the %s: %w", l.typed, l.what, err)
		}
	}
	return d, nil
}
