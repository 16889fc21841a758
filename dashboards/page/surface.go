package page

import (
	"math"
	"slices"
	"strings"

	"pourward/model"
)

// surfaceView is a place that is no air to pour in but the surface of molds in work.
type surfaceView struct {
	Molds   []surfaceMold
	Margins []string // to the dew point of the air, each once
	Near    bool     // to the dew point: not fit to pour on
}

type surfaceMold struct{ Title, Href string }

// Titles names the molds in one line.
func (s surfaceView) Titles() string {
	var titles []string
	for _, m := range s.Molds {
		titles = append(titles, m.Title)
	}
	return strings.Join(titles, "; ")
}

// surface tells of a place as a surface; nil where it is air: humidity is measured there, a mold in work
// stands in it, or no mold in work has its surface there.
func (v voice) surface(o *model.Outlook, p model.PlaceOutlook) *surfaceView {
	if !math.IsNaN(p.Humidity) {
		return nil
	}
	var out surfaceView
	for i := range o.Molds {
		m := &o.Molds[i]
		switch {
		case !m.Open():
		case m.Place == p.Name:
			return nil
		case m.Surface == p.Name:
			out.add(m, v.margin(o, m, p))
		}
	}
	if out.Molds == nil {
		return nil
	}
	return &out
}

func (s *surfaceView) add(m *model.MoldOutlook, margin string) {
	title := m.Title
	if title == "" {
		title = m.Name
	}
	s.Molds = append(s.Molds, surfaceMold{title, moldPath(m.Name)})
	if !slices.Contains(s.Margins, margin) {
		s.Margins = append(s.Margins, margin)
	}
	if !m.Poured {
		s.Near = s.Near || slices.ContainsFunc(m.Pour.Reasons, func(r model.Reason) bool { return r.Code == model.ReasonDew })
	}
}

// margin words how far a surface is from the dew point of the air its mold stands in.
func (v voice) margin(o *model.Outlook, m *model.MoldOutlook, surface model.PlaceOutlook) string {
	air, ok := o.Place(m.Place)
	if !ok || !air.Known || !surface.Known || math.IsNaN(air.DewPointC) {
		return "distance to the dew point of " + m.Place + " not known"
	}
	k := surface.TempC - air.DewPointC
	if k < 0 {
		return v.difference(-k) + " below the dew point of " + m.Place
	}
	return v.difference(k) + " above the dew point of " + m.Place
}
