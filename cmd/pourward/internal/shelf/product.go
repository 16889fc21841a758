package shelf

import (
	"slices"
	"time"

	"pourward/cmd/pourward/internal/keyed"
	"pourward/model/material"
)

// read reads what every material has, then what its kind has.
func (g *group) read(generic *material.Shelf) material.Material {
	m, ok := g.base(generic)
	need(g, "name", "Name", keyed.Text("my-slow-rubber"), &m.Name)
	need(g, "title", "Title", keyed.Text("My slow rubber"), &m.Title)
	from := material.Source{Status: material.DataSheet}
	need(g, "sheet", "Sheet", keyed.Text("issue of March 2024, page 2"), &from.Text)
	need(g, "at", "RefC", temp("23 °C"), &m.RefC)
	if take(g, "density", "GramsPerML", density("1.1 g/mL"), &m.GramsPerML) {
		m.DensityFrom = from
	}
	g.humidity(&m.Humidity)
	g.storage(&m.Storage, from)
	g.lots(&m)
	g.cautions(&m)
	if !ok {
		for _, k := range g.Node.Keys { // which of them may stand here waits for what the material is
			g.Know(k.Name)
		}
		return m
	}
	if m.Cures() {
		g.curing(&m, from)
		dropUnstated(&m)
	} else {
		g.coating(&m, from)
	}
	return m
}

// base gives the generic class that the material is like, freed of its times, or a bare material of a
// kind. ok is false when the file says neither.
func (g *group) base(generic *material.Shelf) (m material.Material, ok bool) {
	take(g, "like", "Like", choice("platinum-slow", generic.Names(), func(name string) material.Material {
		m, _ := generic.Find(name) // one of its names
		return m
	}), &m)
	liked := m.Kind != ""
	var bare material.Kind
	kinds := choice("rubber", words(bareKinds()), func(w string) material.Kind { return material.Kind(w) })
	stated := take(g, "kind", "Kind", kinds, &bare)
	like := g.Find("like") != nil
	switch {
	case like && stated:
		g.Report(g.of.at("Kind"), g.Path("kind")+": like settles the kind", "delete one of them")
		return m, false
	case !like && !stated:
		g.Report(g.Node.At, g.Name+" says neither what it is like nor its kind", "write e.g. like: platinum-slow")
		return m, false
	case stated:
		return material.Material{Kind: bare}, bare != ""
	}
	return withoutTimes(m), liked
}

// bareKinds are those that a product like no class can be. All plaster is like the class.
func bareKinds() []material.Kind {
	return slices.DeleteFunc(material.Kinds(), func(k material.Kind) bool { return k == material.Plaster })
}

// withoutTimes takes out what only a product's own sheet can tell.
func withoutTimes(m material.Material) material.Material {
	m.Name, m.Title, m.RefC = "", "", 0
	for _, e := range []*material.Event{&m.WorkingLife, &m.Demold, &m.LayerEarliest, &m.LayerLatest} {
		e.Ref, e.Source = 0, material.Source{}
	}
	m.Coat.Ref, m.Coat.Source = 0, material.Source{}
	m.Cautions = slices.Clone(m.Cautions)
	return m
}

// dropUnstated clears what a class says of times that the sheet does not state.
func dropUnstated(m *material.Material) {
	for _, e := range []*material.Event{&m.WorkingLife, &m.Demold, &m.LayerEarliest, &m.LayerLatest} {
		if !e.Known() {
			*e = material.Event{}
		}
	}
}

func (g *group) humidity(h *material.Humidities) {
	if sub := g.sub("humidity", "Humidity", `max: "80 %"`); sub != nil {
		take(sub, "min", "Humidity.Min", percent("20 %"), &h.Min)
		take(sub, "max", "Humidity.Max", percent("80 %"), &h.Max)
		sub.Done()
	}
}

func (g *group) storage(s *material.Storage, from material.Source) {
	if sub := g.sub("storage", "Storage", `shelf_life: "365 d"`); sub != nil {
		s.Source = from
		take(sub, "shelf_life", "Storage.ShelfLife", duration("365 d"), &s.ShelfLife)
		take(sub, "opened_life", "Storage.OpenedLife", duration("90 d"), &s.OpenedLife)
		sub.bounds("Storage.Temp", "10 °C", "27 °C", &s.Temp)
		sub.Done()
	}
}

// bounds reads a range of temperature, both limits or neither.
func (g *group) bounds(field, low, high string, w *material.Window) {
	bounds := material.Window{}
	colder := take(g, "min", field+".MinC", temp(low), &bounds.MinC)
	warmer := take(g, "max", field+".MaxC", temp(high), &bounds.MaxC)
	switch {
	case !colder && !warmer:
	case !colder:
		g.Missing("min", temp(low).Example)
	case !warmer:
		g.Missing("max", temp(high).Example)
	default:
		*w = bounds
	}
}

// window reads a group that is nothing but a range of temperature. It tells whether there is one.
func (g *group) window(name, field string, w *material.Window) bool {
	sub := g.sub(name, field, `min: "18 °C", max: "32 °C"`)
	if sub == nil {
		return false
	}
	sub.bounds(field, "18 °C", "32 °C", w)
	sub.Done()
	return true
}

func (g *group) lots(m *material.Material) {
	for i, sub := range g.list("lots", "lot", "Lots", `number: "L-0301", made: 2024-03-01`) {
		field := indexed("Lots", i)
		g.of.fields[field] = sub.Node.At
		lot := material.Lot{}
		need(sub, "number", field+".Number", keyed.Text("L-0301"), &lot.Number)
		for _, day := range []struct {
			name, field string
			into        *time.Time
		}{{"made", ".Made", &lot.Made}, {"opened", ".Opened", &lot.Opened}, {"expiry", ".Expiry", &lot.Expiry}} {
			take(sub, day.name, field+day.field, date("2024-03-01"), day.into)
		}
		sub.Done()
		m.Lots = append(m.Lots, lot)
	}
}

// cautions adds the product's own to those of the class, which stay.
func (g *group) cautions(m *material.Material) {
	var own []string
	take(g, "cautions", "Cautions", texts("Gloves and goggles: see its safety data sheet."), &own)
	m.Cautions = append(m.Cautions, own...)
}
