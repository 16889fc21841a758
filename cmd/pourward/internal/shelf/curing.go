package shelf

import (
	"pourward/cmd/pourward/internal/keyed"
	"pourward/model/material"
)

// curing reads what a rubber, resin or plaster has. A bare kind has no class to take the rest from.
func (g *group) curing(m *material.Material, from material.Source) {
	bare := g.Find("like") == nil
	g.times(m, from)
	g.spread(m, bare)
	g.energy(m, from, bare)
	g.second(&m.Second, from)
	ask(g, bare, "floor", "FloorC", temp("5 °C"), &m.FloorC)
	if take(g, "doubt_below", "DoubtBelowC", temp("15 °C"), &m.DoubtBelowC) {
		m.DoubtFrom = from
	}
	g.window("known", "Known", &m.Known)
	if g.window("pour", "Pour", &m.Pour) {
		m.PourFrom = from
	}
	take(g, "inhibitable", "Inhibitable", keyed.Truth(), &m.Inhibitable)
	take(g, "demold_test", "DemoldTest", keyed.Text("the cup's leftover takes no mark of a fingernail"), &m.DemoldTest)
	g.mixing(&m.Mixing, from)
}

// times reads the events of the sheet's own temperature.
func (g *group) times(m *material.Material, from material.Source) {
	g.event("working_life", "WorkingLife", "35 min", &m.WorkingLife, from)
	g.event("demold", "Demold", "6 h", &m.Demold, from)
	if sub := g.sub("layer", "LayerEarliest", `from: "50 min", until: "5 h"`); sub != nil {
		g.of.fields["LayerLatest"] = sub.Node.At
		sub.event("from", "LayerEarliest", "50 min", &m.LayerEarliest, from)
		sub.event("until", "LayerLatest", "5 h", &m.LayerLatest, from)
		sub.Done()
	}
}

func (g *group) event(name, field, example string, e *material.Event, from material.Source) {
	if take(g, name, field+".Ref", duration(example), &e.Ref) {
		e.Source = from
	}
}

// spread reads how far a batch strays from its times: about two in three are within it.
func (g *group) spread(m *material.Material, bare bool) {
	var spread float64
	if !ask(g, bare, "spread", "Demold.LnSD", percent("15 %"), &spread) {
		return
	}
	for _, e := range []*material.Event{&m.WorkingLife, &m.Demold, &m.LayerEarliest, &m.LayerLatest} {
		e.LnSD = spread
	}
}

// energy reads activation energies, one for each time that is stated where no class has them.
func (g *group) energy(m *material.Material, from material.Source, bare bool) {
	const groupExample = `demold: "55 kJ/mol", spread: "15 kJ/mol"`
	if sub := g.sub("energy", "Demold.EaJ", groupExample); sub != nil {
		work, demold, spread := &m.WorkingLife, &m.Demold, 0.0
		need(sub, "spread", "Demold.EaSDJ", energy("15 kJ/mol"), &spread)
		if ask(sub, bare && work.Known(), "working_life", "WorkingLife.EaJ", energy("50 kJ/mol"), &work.EaJ) {
			work.EaSDJ, work.EaFrom = spread, from
		}
		if ask(sub, bare && demold.Known(), "demold", "Demold.EaJ", energy("55 kJ/mol"), &demold.EaJ) {
			demold.EaSDJ, demold.EaFrom = spread, from
		}
		sub.Done()
	} else if bare && g.Find("energy") == nil {
		g.Missing("energy", "{"+groupExample+"}")
	}
	layerLike(m)
}

// layerLike gives the layer window the energy of the demold time, and its spread where it has none: both
// are of a network that grows. Without a demold time it is the working life's.
func layerLike(m *material.Material) {
	of := m.Demold
	if !of.Known() {
		of = m.WorkingLife
	}
	for _, e := range []*material.Event{&m.LayerEarliest, &m.LayerLatest} {
		e.EaJ, e.EaSDJ, e.EaFrom = of.EaJ, of.EaSDJ, of.EaFrom
		if e.LnSD == 0 {
			e.LnSD = of.LnSD
		}
	}
}

// second reads the same times at another temperature.
func (g *group) second(s *material.SecondTime, from material.Source) {
	sub := g.sub("second", "Second", `at: "40 °C", demold: "1 h 30 min"`)
	if sub == nil {
		return
	}
	s.Source = from
	need(sub, "at", "Second.TempC", temp("40 °C"), &s.TempC)
	work := take(sub, "working_life", "Second.WorkingLife", duration("12 min"), &s.WorkingLife)
	demold := take(sub, "demold", "Second.Demold", duration("1 h 30 min"), &s.Demold)
	if !work && !demold {
		sub.Missing("demold", duration("1 h 30 min").Example)
	}
	take(sub, "error", "Second.RelSD", percent("10 %"), &s.RelSD)
	sub.Done()
}

func (g *group) mixing(m *material.Mixing, from material.Source) {
	const parts = `name: A, ratio: 10}, {name: B, ratio: 1`
	sub := g.sub("mix", "Mixing", `by: weight, parts: [{`+parts+`}]`)
	if sub == nil {
		return
	}
	m.Source = from
	need(sub, "by", "Mixing.ByVolume", choice("weight", []string{"weight", "volume"}, func(w string) bool { return w == "volume" }), &m.ByVolume)
	take(sub, "tolerance", "Mixing.Tolerance", percent("2 %"), &m.Tolerance)
	for i, one := range sub.list("parts", "part", "Mixing.Parts", parts) {
		field := indexed("Mixing.Parts", i)
		g.of.fields[field] = one.Node.At
		p := material.Part{}
		need(one, "name", field+".Name", keyed.Text("A"), &p.Name)
		need(one, "ratio", field+".Ratio", number("10"), &p.Ratio)
		take(one, "density", field+".GramsPerML", density("1.1 g/mL"), &p.GramsPerML)
		take(one, "heat", field+".JPerGramK", heat("1.5 J/(g K)"), &p.JPerGramK)
		one.Done()
		m.Parts = append(m.Parts, p)
	}
	if sub.Find("parts") == nil {
		sub.Missing("parts", "[{"+parts+"}]")
	}
	sub.Done()
}
