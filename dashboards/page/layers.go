package page

import (
	"time"

	"pourward/model"
)

// windowOf words a layer window: when it opens, and until when the next layer bonds.
func (v voice) windowOf(s model.Step) string {
	text := ""
	if s.Band.Told() {
		switch s.Standing {
		case model.Running, model.Maybe:
			text = v.readyBy(s.Band)
		case model.Ready:
			text = sentence("open for nine in ten since", v.at(ceil(s.Band.Latest, time.Minute)))
		}
	}
	if s.Closes.Told() {
		text += " " + v.bondsBefore(s.Closes)
	}
	return sentence(text)
}

// bondsBefore words the end of a layer window: the earliest first, since that is the one to act on.
func (v voice) bondsBefore(b model.Band) string {
	b = rounded(b)
	rest := v.near(b.Likely, b.Earliest) + ", almost surely by " + v.near(b.Latest, b.Earliest)
	switch {
	case !b.Latest.After(v.now):
		return sentence("the next one almost surely no longer bonds since", v.at(b.Latest))
	case !b.Earliest.After(v.now):
		return sentence("the bond may be lost since "+v.at(b.Earliest)+"; likely lost by", rest)
	}
	return sentence("the next one bonds before "+v.at(b.Earliest)+"; likely no more by", rest)
}

func layerHead(s model.Standing) string {
	switch s {
	case model.Running:
		return "too soon for the next layer"
	case model.Maybe:
		return "may take the next layer: touch it"
	case model.Ready:
		return "takes the next layer"
	case model.Ending:
		return "closing: brush the next layer now"
	case model.Over:
		return "over: the bond is doubtful"
	case model.Closed:
		return "covered"
	}
	return string(s)
}

// openLayer is the layer that the next one is waited for on.
func openLayer(m *model.MoldOutlook) (model.Step, bool) {
	for _, s := range m.Steps {
		if s.Kind == model.LayerWindow && s.Standing != model.Closed {
			return s, true
		}
	}
	return model.Step{}, false
}

// layerWhen words the instant of the next thing to do where it is one of a layer window; empty otherwise.
func (v voice) layerWhen(m *model.MoldOutlook) string {
	s, ok := openLayer(m)
	if !ok {
		return ""
	}
	switch at := m.NextAt; {
	case s.Closes.Told() && at.Equal(s.Closes.Earliest):
		at = rounded(s.Closes).Earliest
		return "before " + v.at(at) + ", " + v.span(at.Sub(v.now)) + " left"
	case s.Band.Told() && at.Equal(s.Band.Latest):
		at = rounded(s.Band).Latest
		return "until " + v.at(at) + ", " + v.span(at.Sub(v.now)) + " from now"
	case at.Equal(s.NotBefore):
		return "not before " + v.at(at)
	}
	return ""
}

// drawnSteps are the steps that are shown: of a mold in layers each window, and the cure of the newest
// layer alone, which the mold comes off by.
func drawnSteps(m *model.MoldOutlook) []model.Step {
	var out []model.Step
	newest := int64(0)
	for _, s := range m.Steps {
		if s.Kind == model.DemoldTime {
			newest = s.Mark
		}
	}
	windows := map[int64]bool{}
	for _, s := range m.Steps {
		switch {
		case s.Kind == model.LayerWindow:
			windows[s.Mark] = true
		case s.Kind == model.DemoldTime && windows[s.Mark] && s.Mark != newest:
			continue
		}
		out = append(out, s)
	}
	return out
}
