package page

import (
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"pourward/model"
	"pourward/model/material"
	"pourward/model/plan"
)

// wish is what is to be planned, as it was typed.
type wish struct {
	Place, By, Begin       string
	Sealer, Coats, Release string
	First, Cast            string // in two steps: molded in First, cast in Cast, and that molded again
	Rubber, Layers         string
	Course                 string // in words, instead of the above
	Work, Heat, HeatFrom   string
	HeatHours              string
	asked                  bool // there is something to plan
	workDefault            bool // taken from how the shop is set up
}

// formed reads what was typed; what was left out is as the shop is set up.
func (s *site) formed(q url.Values, v voice) wish {
	get := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	w := wish{
		Place: get("place"), By: get("by"), Begin: get("begin"), Sealer: get("sealer"), Coats: get("coats"), Release: get("release"),
		First: get("first"), Cast: get("cast"), Rubber: get("rubber"), Layers: get("layers"), Course: get("course"),
		Work: get("work"), Heat: get("heat"), HeatFrom: get("heat_from"), HeatHours: get("heat_hours"), asked: len(q) > 0,
	}
	if all := s.places("", ""); w.Place == "" && len(all) > 0 {
		w.Place = all[0].Value
	}
	if w.workDefault = w.Work == ""; w.workDefault {
		w.Work = s.opts.Hours.String()
	}
	if w.Heat == "" {
		w.Heat = v.heatWords(s.heatC(w.Place))
	}
	return w
}

// usualHeatC is what a shop that does not say is taken to be heated to, °C: the room temperature at which data
// sheets hold begins there.
const usualHeatC = 22

func (s *site) heatC(place string) float64 {
	if c, ok := s.opts.HeatC[place]; ok {
		return c
	}
	return usualHeatC
}

// heatWords are a temperature as it would be typed.
func (v voice) heatWords(tempC float64) string {
	return strconv.FormatFloat(v.scaled(tempC), 'f', -1, 64) + " " + v.unitName()
}

// request makes of what was typed what is to be planned, but for the sight. The errors are sentences for the
// maker.
func (w wish) request(v voice) (r plan.Request, heat plan.Heat, err error) {
	if w.By == "" {
		return r, heat, errors.New("say by when it is to be demolded, such as Fri 17:00")
	}
	r.Now = v.now
	if r.By, err = ParseBy(w.By, v.now, v.zone); err != nil {
		return r, heat, err
	}
	if w.Begin != "" {
		if r.Begin, err = ParseBy(w.Begin, v.now, v.zone); err != nil {
			return r, heat, err
		}
	}
	if r.Course, err = w.course(); err != nil {
		return r, heat, err
	}
	if r.Hours, err = plan.ParseHours(w.Work); err != nil {
		return r, heat, fmt.Errorf("working hours: %w", err)
	}
	heat, err = w.heater(v)
	return r, heat, err
}

// course is what is to be done, in order.
func (w wish) course() (plan.Course, error) {
	if w.Course != "" {
		return plan.ParseCourse(w.Course)
	}
	coats, err := times(w.Coats, "seal coats")
	if err != nil {
		return nil, err
	}
	layers, err := times(w.Layers, "layers")
	if err != nil {
		return nil, err
	}
	if (w.First == "") != (w.Cast == "") {
		return nil, errors.New("in two steps needs both: what it is molded in first, and what is cast in that")
	}
	var c plan.Course
	add := func(name string, n int) {
		if name != "" && n > 0 {
			c = append(c, plan.Item{Material: name, Times: n})
		}
	}
	if w.First != "" {
		add(w.Sealer, coats)
		add(w.Release, 1)
		add(w.First, 1)
		add(w.Release, 1)
		add(w.Cast, 1)
	}
	add(w.Sealer, coats)
	add(w.Release, 1)
	add(w.Rubber, layers)
	if len(c) == 0 {
		return nil, errors.New("say what is to be poured: choose a rubber, a resin or a plaster")
	}
	return c, nil
}

// times reads how often; left out is once.
func times(typed, of string) (int, error) {
	if typed == "" {
		return 1, nil
	}
	n, err := strconv.Atoi(typed)
	if err != nil || n < 0 || n > 99 {
		return 0, fmt.Errorf("%q is no number of %s", typed, of)
	}
	return n, nil
}

// heater is the heating to compare with.
func (w wish) heater(v voice) (h plan.Heat, err error) {
	if h.TempC, err = v.parseTemp(w.Heat); err != nil {
		return h, err
	}
	h.From = v.now
	if w.HeatFrom != "" {
		if h.From, err = ParseBy(w.HeatFrom, v.now, v.zone); err != nil {
			return h, fmt.Errorf("heating: %w", err)
		}
	}
	if w.HeatHours != "" {
		if h.Hours, err = plan.ParseHours(w.HeatHours); err != nil {
			return h, fmt.Errorf("hours of heating: %w", err)
		}
	}
	return h, nil
}

// parseTemp reads a temperature, in the visitor's unit where none is written, °C.
func (v voice) parseTemp(typed string) (tempC float64, err error) {
	text := strings.ToUpper(strings.TrimSpace(typed))
	unit := v.unit
	for _, end := range []struct {
		text string
		unit Unit
	}{{"F", Fahrenheit}, {"C", Celsius}} {
		if rest, ok := strings.CutSuffix(text, end.text); ok {
			text, unit = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "°")), end.unit
			break
		}
	}
	x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return 0, fmt.Errorf("cannot read %q as a temperature: write such as 22 °C or 72 °F", typed)
	}
	if unit == Fahrenheit {
		x = (x - 32) * 5 / 9
	}
	return x, nil
}

// planForm is the form of the page with what it offers.
type planForm struct {
	wish
	Places, Sealers, Releases []option
	Firsts, Casts, Rubbers    []option
	CoatCounts, LayerCounts   []option
	TwoStep, InWords, ByHours bool // the fold is open
}

func (s *site) planForm(w wish, o *model.Outlook) planForm {
	cured := []material.Kind{material.Rubber, material.Resin, material.Plaster}
	if !w.asked {
		w.Coats, w.Layers, w.Rubber = "2", "1", usualRubber(o)
	}
	return planForm{
		wish: w, Places: s.places(w.Place, ""),
		Sealers: s.materials(w.Sealer, "no seal coat", material.Sealer), Releases: s.materials(w.Release, "no release agent", material.Release),
		Firsts: s.materials(w.First, "no first mold", cured...), Casts: s.materials(w.Cast, "nothing is cast", cured...),
		Rubbers: s.materials(w.Rubber, "", cured...), CoatCounts: counts(w.Coats, 5, "coat"), LayerCounts: layerCounts(w.Layers),
		TwoStep: w.First != "" || w.Cast != "", InWords: w.Course != "", ByHours: !w.workDefault || w.HeatFrom != "" || w.HeatHours != "" || w.Begin != "",
	}
}

func counts(chosen string, most int, of string) []option {
	var out []option
	for n := 1; n <= most; n++ {
		text := fmt.Sprintf("%d %ss", n, of)
		if n == 1 {
			text = "1 " + of
		}
		out = append(out, option{strconv.Itoa(n), text, strconv.Itoa(n) == chosen})
	}
	return out
}

func layerCounts(chosen string) []option {
	out := counts(chosen, 8, "brushed layer")
	out[0].Text = "poured"
	return out
}
