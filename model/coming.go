package model

import "fmt"

// Coming is a step still to come.
type Coming struct {
	Mark  MarkKind // by which it will be entered
	Name  string   // of the step that will begin with it: coat-2, layer-3; empty where none does
	Title string
	How   string // what to mind, common practice; may be empty
}

// coming lists the steps still to come by the design of the mold, in the order of common practice (no
// source): seal coats, release agent, rubber, demolding. Nothing where no way to make it was told.
func (m *mold) coming() []Coming {
	d := m.begin.Design
	if d.Method == "" || !m.open() {
		return nil
	}
	var out []Coming
	poured, mixed := m.count(DemoldTime) > 0, m.count(WorkingLife) > 0
	if !poured && !mixed && m.count(ReleaseDry) == 0 {
		for n := m.count(CoatDry) + 1; n <= d.Coats; n++ {
			out = append(out, Coming{Mark: CoatOn, Name: fmt.Sprintf("coat-%d", n), Title: "Seal coat " + ofAll(n, d.Coats)})
		}
		out = append(out, Coming{Mark: ReleaseOn, Name: "release", Title: "Release agent"})
	}
	if d.Method.Layered() {
		out = append(out, m.comingLayers()...)
	} else if !poured {
		out = append(out, Coming{Mark: Poured, Name: "cure", Title: "Pour", How: "in one go, a thin stream into the lowest corner"})
	}
	return append(out, Coming{Mark: Demolded, Title: "Demold", How: demoldHow(d.Method)})
}

// comingLayers are the layers still to be brushed on; where their number was not told, the first.
func (m *mold) comingLayers() []Coming {
	var out []Coming
	for n := m.layersOn() + 1; n <= max(m.begin.Design.Layers, 1); n++ {
		out = append(out, layerToCome(n, m.begin.Design.Layers))
	}
	return out
}

func layerToCome(n, all int) Coming {
	c := Coming{Mark: LayerOn, Name: fmt.Sprintf("layer-%d", n), Title: "Layer " + ofAll(n, all)}
	switch {
	case n == 1:
		c.How = "the first thin, worked into every detail"
	case n == all:
		c.How = "the last: leave no thin spot"
	default:
		c.How = "even, thicker on edges and undercuts"
	}
	return c
}

func demoldHow(m Method) string {
	switch m {
	case Brushed:
		return "after the mother mold has set over the cured rubber"
	case Glove:
		return "peel it off and turn it inside out"
	}
	return ""
}

// coming returns the first step still to come that is entered by one of the given marks.
func (o *MoldOutlook) coming(kinds ...MarkKind) (Coming, bool) {
	for _, c := range o.Coming {
		for _, k := range kinds {
			if c.Mark == k {
				return c, true
			}
		}
	}
	return Coming{}, false
}
