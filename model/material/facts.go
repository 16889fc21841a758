package material

import (
	"fmt"
	"strings"
	"time"
)

// Fact is one thing known of a material, for people.
type Fact struct {
	What   string
	value  string // "%t" stands for each of temps
	temps  []float64
	Source Source // zero where the maker's own file is the source of all
}

// Text is what is known, its temperatures written by temp.
func (f Fact) Text(temp func(c float64) string) string {
	text := f.value
	for _, c := range f.temps {
		text = strings.Replace(text, "%t", temp(c), 1)
	}
	return text
}

// Facts lists what is known of a material, in the order of the work. What is not stated is left out.
func (m Material) Facts() []Fact {
	var l facts
	l.of("times hold at", Source{}, "%t", m.RefC)
	if m.Cures() {
		l.curing(m)
	} else {
		l.coating(m)
	}
	l.humidity(m.Humidity)
	if m.GramsPerML > 0 {
		l.of("density", m.DensityFrom, fmt.Sprintf("%g g/mL", m.GramsPerML))
	}
	l.storage(m)
	return l
}

type facts []Fact

func (l *facts) of(what string, from Source, value string, temps ...float64) {
	*l = append(*l, Fact{what, value, temps, from})
}

func (l *facts) curing(m Material) {
	for _, e := range []struct {
		what  string
		event Event
	}{{"working life", m.WorkingLife}, {"next layer from", m.LayerEarliest}, {"next layer until", m.LayerLatest}, {"demold", m.Demold}} {
		if !e.event.Known() {
			continue
		}
		l.of(e.what, e.event.Source, fmt.Sprintf("%s, two in three within %.0f %%", span(e.event.Ref), 100*e.event.LnSD))
		l.of("its activation energy", e.event.EaFrom, fmt.Sprintf("%.0f ± %.0f kJ/mol", e.event.EaJ/1000, e.event.EaSDJ/1000))
	}
	if m.Second.Stated() {
		l.second(m.Second)
	}
	if m.DemoldTest != "" {
		l.of("before demolding", Source{}, m.DemoldTest)
	}
	l.of("pour from", m.PourFrom, "%t to %t", m.Pour.MinC, m.Pour.MaxC)
	l.of("no cure is counted below", m.DoubtFrom, "%t", m.FloorC)
	l.of("some products never cure below", m.DoubtFrom, "%t", m.DoubtBelowC)
	if len(m.Mixing.Parts) > 0 {
		l.mixing(m.Mixing)
	}
	if m.Inhibitable {
		l.of("poisoned while uncured", Source{Status: Practice}, "by what it touches: test a patch on the very surface")
	}
}

func (l *facts) second(s SecondTime) {
	for _, e := range []struct {
		what string
		time time.Duration
	}{{"working life, second time", s.WorkingLife}, {"demold, second time", s.Demold}} {
		if e.time > 0 {
			l.of(e.what, s.Source, span(e.time)+" at %t", s.TempC)
		}
	}
}

func (l *facts) mixing(m Mixing) {
	names, ratios := make([]string, len(m.Parts)), make([]string, len(m.Parts))
	for i, p := range m.Parts {
		names[i], ratios[i] = p.Name, fmt.Sprintf("%g", p.Ratio)
	}
	by := "by weight"
	if m.ByVolume {
		by = "by volume"
	}
	text := fmt.Sprintf("%s %s %s", strings.Join(names, " : "), strings.Join(ratios, " : "), by)
	if m.Tolerance > 0 {
		text += fmt.Sprintf(", within %g %%", 100*m.Tolerance)
	}
	l.of("mix", m.Source, text)
}

func (l *facts) coating(m Material) {
	c := m.Coat
	switch {
	case c.Ref > 0:
		l.of("dry", c.Source, fmt.Sprintf("%s at %.0f %% relative humidity (%s)", span(c.Ref), 100*c.RefHumidity, c.Class))
	default:
		l.of("dry", c.Source, string(c.Class))
	}
	if c.RecoatFrom > 0 {
		l.of("next coat from", c.Source, span(c.RecoatFrom))
	}
	if c.RecoatUntil > 0 {
		l.of("next coat until", c.Source, span(c.RecoatUntil))
	}
	if c.FilmMicrometers > 0 {
		l.of("dry film", c.Source, fmt.Sprintf("%g µm", c.FilmMicrometers))
	}
}

func (l *facts) humidity(h Humidities) {
	switch {
	case h.Min > 0 && h.Max > 0:
		l.of("use in air of", Source{}, fmt.Sprintf("%.0f to %.0f %% relative humidity", 100*h.Min, 100*h.Max))
	case h.Min > 0:
		l.of("use in air above", Source{}, fmt.Sprintf("%.0f %% relative humidity", 100*h.Min))
	case h.Max > 0:
		l.of("use in air below", Source{}, fmt.Sprintf("%.0f %% relative humidity", 100*h.Max))
	}
}

func (l *facts) storage(m Material) {
	s := m.Storage
	if s.Temp != (Window{}) {
		l.of("store at", s.Source, "%t to %t", s.Temp.MinC, s.Temp.MaxC)
	}
	if s.ShelfLife > 0 {
		l.of("keeps", s.Source, span(s.ShelfLife))
	}
	if s.OpenedLife > 0 {
		l.of("keeps once opened", s.Source, span(s.OpenedLife))
	}
	for _, lot := range m.Lots {
		text := lot.Number
		if at, ok := m.UseBy(lot); ok {
			text += ", use by " + at.Format(time.DateOnly)
		}
		l.of("lot", Source{}, text)
	}
}
