package shelf

import (
	"time"

	"pourward/model/material"
)

// coating reads what a sealer or release agent has.
func (g *group) coating(m *material.Material, from material.Source) {
	k := &m.Coat
	bare := g.Find("like") == nil
	if bare {
		classes := choice("lacquer", words(material.Classes()), func(w string) material.Class { return material.Class(w) })
		need(g, "class", "Coat.Class", classes, &k.Class)
	}
	ask(g, bare, "at_humidity", "Coat.RefHumidity", percent("50 %"), &k.RefHumidity)
	k.Source = from
	need(g, "dry", "Coat.Ref", duration("70 min"), &k.Ref)
	take(g, "film", "Coat.FilmMicrometers", film("30 µm"), &k.FilmMicrometers)
	if sub := g.sub("recoat", "Coat.RecoatFrom", `from: "2 h", until: "24 h"`); sub != nil {
		for _, limit := range []struct {
			name, field, example string
			into                 *time.Duration
		}{{"from", "Coat.RecoatFrom", "2 h", &k.RecoatFrom}, {"until", "Coat.RecoatUntil", "24 h", &k.RecoatUntil}} {
			take(sub, limit.name, limit.field, duration(limit.example), limit.into)
		}
		sub.Done()
	}
}
