package config

import (
	"pourward/cmd/pourward/internal/keyed"
	"pourward/model/doubt"
)

const ratesExample = `{face: {bare: "20 %"}, ratio: "1.5 %"}`

// readRates reads how often things go wrong in this shop, by its own count; what is left out keeps the
// built-in rate. Nil where the file says nothing.
func readRates(g *group) *doubt.Priors {
	if g == nil {
		return nil
	}
	defer g.Done()
	p := doubt.DefaultPriors()
	if face := g.optionalGroup("face", `{bare: "20 %"}`); face != nil {
		for name, prep := range map[string]doubt.Prep{"bare": doubt.Untold, "sealed": doubt.Sealed, "risky": doubt.Risky, "risky_sealed": doubt.RiskySealed} {
			p.Surface[prep] = optional(face, name, rate("20 %"), p.Surface[prep])
		}
		face.Done()
	}
	for name, to := range map[string]*float64{
		"ratio": &p.Ratio, "mixing": &p.Mixing, "aged": &p.Aged, "contaminated": &p.Contaminated, "cup": &p.CupAlone,
		"patch_shows": &p.PatchShows, "edge_shows": &p.EdgeShows, "false_firm": &p.FalseFirm,
	} {
		*to = optional(g, name, rate("2 %"), *to)
	}
	return &p
}

// rate is a share of all times, written as a percentage. Nothing happens never, and nothing always: a rate of
// either would outweigh whatever is found.
func rate(example string) keyed.Want[float64] {
	return keyed.Then(measured(ParsePercent, example, 0.0001, 0.9999, "0.01 % to 99.99 %"), func(r Ratio) (float64, error) { return float64(r), nil })
}
