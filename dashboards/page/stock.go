package page

import (
	"net/http"
	"strings"

	"pourward/model/material"
)

// materialsPath is the page of the materials.
const materialsPath = "/materials"

// materialsView lists what marks may name.
type materialsView struct {
	frame
	Kinds []materialKind
}

type materialKind struct {
	Title     string
	Materials []materialView
}

type materialView struct {
	Name, Title string
	Facts       []factView
	Cautions    []string
}

type factView struct{ What, Text, Source string }

func (s *site) showMaterials(w http.ResponseWriter, r *http.Request) {
	snap, v := s.look(r)
	view := materialsView{frame: s.frame(v, snap, "Materials", materialsPath)}
	for _, kind := range material.Kinds() {
		k := materialKind{Title: capital(kindTitle(kind))}
		for _, m := range s.opts.Shelf.OfKind(kind) {
			k.Materials = append(k.Materials, v.material(m))
		}
		if len(k.Materials) > 0 {
			view.Kinds = append(view.Kinds, k)
		}
	}
	s.render(w, r, http.StatusOK, "materials", view)
}

func kindTitle(k material.Kind) string {
	switch k {
	case material.Sealer:
		return "sealers"
	case material.Release:
		return "release agents"
	case material.Plaster:
		return "plasters"
	}
	return string(k) + "s"
}

func (v voice) material(m material.Material) materialView {
	out := materialView{Name: m.Name, Title: m.Title, Cautions: m.Cautions}
	for _, f := range m.Facts() {
		source := ""
		if f.Source != (material.Source{}) {
			source = f.Source.String()
		}
		out.Facts = append(out.Facts, factView{capital(f.What), strings.TrimSuffix(f.Text(v.temp), "."), source})
	}
	return out
}
