package page

import (
	"time"

	"pourward/model"
)

// wirePatch is a test patch.
type wirePatch struct {
	Name      string     `json:"name"`
	Face      string     `json:"face"`
	Prep      []string   `json:"prep"` // coats and release, in order; empty = bare
	Material  string     `json:"material"`
	Lot       string     `json:"lot,omitempty"`
	Place     string     `json:"place"`
	Set       *time.Time `json:"set"`
	State     string     `json:"state"`
	ReadAt    *time.Time `json:"read_at"`
	Cold      *wireCold  `json:"cold"`       // null unless it passed and the readings are known
	TouchFrom *time.Time `json:"touch_from"` // nine in ten like it are firm then
	NotBefore *time.Time `json:"not_before"` // one in ten is firm then
	Says      string     `json:"says"`
	Do        []string   `json:"do,omitempty"`
	Cautions  []string   `json:"cautions,omitempty"`
	Risks     []wireRisk `json:"risks,omitempty"`
	Why       []string   `json:"why,omitempty"`
	Sources   []string   `json:"sources,omitempty"`
	Marks     []wireMark `json:"marks"`
}

// wireCold is how cold something was while it cured, °C.
type wireCold struct {
	LowestC float64 `json:"lowest_c"`
	MeanC   float64 `json:"mean_c"`
}

// wireRisk is something that a face is known to be poisoned by.
type wireRisk struct {
	Name   string `json:"name"`
	Why    string `json:"why"`
	Remedy string `json:"remedy"`
}

// wireTrial is what all patches of one face, prep and material say together.
type wireTrial struct {
	Face     string     `json:"face"`
	Prep     []string   `json:"prep"`
	Material string     `json:"material"`
	Result   string     `json:"result"`
	Cold     *wireCold  `json:"cold"`
	At       *time.Time `json:"at"`
	Lot      string     `json:"lot,omitempty"`
	Old      bool       `json:"old"` // passed longer ago than a patch vouches
	Patches  []string   `json:"patches"`
}

// wireVouch is the patch that vouches for a mold; its name is empty where it lies beside the mold.
type wireVouch struct {
	Patch string     `json:"patch"`
	Cold  *wireCold  `json:"cold"`
	At    *time.Time `json:"at"`
	Lot   string     `json:"lot,omitempty"`
}

func wireColdOf(c model.Cold) *wireCold {
	if !c.Known {
		return nil
	}
	return &wireCold{c.LowestC, c.MeanC}
}

func wireRisksOf(all []model.Risk) []wireRisk {
	var out []wireRisk
	for _, r := range all {
		out = append(out, wireRisk(r))
	}
	return out
}

func wirePatchOf(p *model.PatchOutlook) wirePatch {
	out := wirePatch{
		Name: p.Name, Face: p.Face, Prep: append([]string{}, p.Prep...), Material: p.Material, Lot: p.Lot, Place: p.Place,
		Set: instant(p.Set), State: string(p.State), ReadAt: instant(p.ReadAt), Cold: wireColdOf(p.Cold),
		TouchFrom: instant(p.TouchFrom()), NotBefore: instant(p.Cure.Band.Earliest), Says: p.Says, Do: p.Do, Cautions: p.Cautions,
		Risks: wireRisksOf(p.Risks), Why: p.Cure.Why, Sources: p.Sources, Marks: []wireMark{},
	}
	for _, k := range p.Marks {
		out.Marks = append(out.Marks, wireMarkOf(k))
	}
	return out
}

func wireTrialOf(t model.Trial) wireTrial {
	return wireTrial{
		Face: t.Face, Prep: append([]string{}, t.Prep...), Material: t.Material, Result: string(t.Result),
		Cold: wireColdOf(t.Cold), At: instant(t.At), Lot: t.Lot, Old: t.Old, Patches: t.Patches,
	}
}

func wireVouchOf(x *model.Vouch) *wireVouch {
	if x == nil {
		return nil
	}
	return &wireVouch{x.Patch, wireColdOf(x.Cold), instant(x.At), x.Lot}
}
