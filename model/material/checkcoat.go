package material

import (
	"fmt"
	"slices"
)

// coating checks a sealer or release agent.
func (c *checker) coating(m Material) {
	for _, e := range []struct {
		field, what string
		event       Event
	}{
		{"WorkingLife", "working life", m.WorkingLife}, {"Demold", "demold time", m.Demold},
		{"LayerEarliest", "layer window", m.LayerEarliest}, {"LayerLatest", "layer window", m.LayerLatest},
	} {
		if e.event != (Event{}) {
			c.fault(e.field+".Ref", fmt.Sprintf("a %s has no %s", m.Kind, e.what), "leave it out: a coat dries")
		}
	}
	if m.Second.Stated() {
		c.fault("Second.TempC", fmt.Sprintf("a %s has no second temperature", m.Kind), "leave it out: its solvent settles what temperature does")
	}
	if len(m.Mixing.Parts) > 0 || m.Mixing.Tolerance != 0 {
		c.fault("Mixing.Parts", fmt.Sprintf("a %s comes ready mixed and has no ratio", m.Kind), "leave the mix out")
	}
	if m.Inhibitable {
		c.fault("Inhibitable", fmt.Sprintf("a %s dries and cannot be inhibited", m.Kind), "say so of the rubber that goes on it")
	}
	c.coat(m.Coat)
	if len(m.Cautions) == 0 && m.Coat.Class != WaterBorne && m.Coat.Class != WaitOnly {
		c.fault("Cautions", "what gives off solvent has no caution", "write what its safety data sheet asks for first")
	}
}

func (c *checker) coat(k Coat) {
	if !slices.Contains(Classes(), k.Class) {
		c.fault("Coat.Class", fmt.Sprintf("class %q of coat is unknown", k.Class), fmt.Sprintf("choose one of %s", list(Classes())))
	}
	switch {
	case !c.time("Coat.Ref", "a dry time", k.Ref, longestDry):
	case k.Ref == 0:
		c.fault("Coat.Ref", "no dry time is stated", "give the one of the data sheet, with the temperature it holds at")
	default:
		c.source("Coat.Source", "the dry time", k.Source)
	}
	if !(k.RefHumidity > 0 && k.RefHumidity < 1) {
		c.fault("Coat.RefHumidity", fmt.Sprintf("a dry time at a relative humidity of %s cannot be", amount(k.RefHumidity, "%")), "give the humidity it holds at, above 0 %, below 100 %, as 50 %")
	}
	from := c.time("Coat.RecoatFrom", "an earliest time of the next coat", k.RecoatFrom, longestDry)
	until := c.time("Coat.RecoatUntil", "a latest time of the next coat", k.RecoatUntil, longestDry)
	if from && until && k.RecoatUntil > 0 && k.RecoatFrom >= k.RecoatUntil {
		c.fault("Coat.RecoatUntil", fmt.Sprintf("the earliest time of the next coat of %s is not before the latest of %s", span(k.RecoatFrom), span(k.RecoatUntil)), "compare both with the data sheet")
	}
	c.optional("Coat.FilmMicrometers", "a dry film", k.FilmMicrometers, thickestFilm, "µm")
}
