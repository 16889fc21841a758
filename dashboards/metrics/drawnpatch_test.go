package metrics_test

import (
	"math/rand/v2"
	"slices"
	"time"

	"pourward/model"
)

// drawnPatches draws from numbers of its own, so that what else is drawn does not follow from it.
type drawnPatches struct {
	*rand.Rand
	patches [2]model.PatchOutlook
	molds   [2]drawnVouch
}

type drawnVouch struct {
	vouch   *model.Vouch
	reasons []model.Reason
}

// tell adds patches to a snapshot, and what they say of its molds.
func (d *drawnPatches) tell(o *model.Outlook) {
	for i, name := range []string{"p1", "p2"} {
		p := &d.patches[i]
		if p.Name == "" || d.IntN(10) == 0 {
			p.Name, p.Face, p.Material, p.Place, p.Set = name, "oil clay", "platinum-slow", "bench", at(7, 0)
			p.State = model.PatchStates()[d.IntN(len(model.PatchStates()))]
			p.Cure.Band = model.Band{}
			if d.IntN(3) > 0 {
				p.Cure.Band.Latest = o.At.Add(time.Duration(-d.IntN(200)) * time.Minute)
			}
		}
		if d.IntN(20) > 0 { // else nothing is told of it
			o.Patches = append(o.Patches, *p)
		}
	}
	if n := len(o.Patches); n > 0 {
		o.Trials = []model.Trial{{Face: "oil clay", Material: "platinum-slow", Result: model.TrialOpen, Patches: []string{o.Patches[n-1].Name}}}
	}
	for i := range o.Molds {
		d.molds[i].draw(d.Rand)
		o.Molds[i].Vouch = d.molds[i].vouch
		o.Molds[i].Pour.Reasons = slices.Concat(o.Molds[i].Pour.Reasons, d.molds[i].reasons)
	}
}

// draw lets a patch vouch, and lets something speak against it, each at odd times: the latter for long.
func (v *drawnVouch) draw(by *rand.Rand) {
	if by.IntN(40) == 0 || v.reasons == nil {
		v.vouch = nil
		if by.IntN(3) > 0 {
			v.vouch = &model.Vouch{Patch: "p1"}
		}
	}
	if by.IntN(120) == 0 || v.reasons == nil {
		reason := func(code model.ReasonCode) model.Reason { return model.Reason{Code: code, Caution: true} }
		v.reasons = [][]model.Reason{
			{reason(model.ReasonPatchOld)}, {reason(model.ReasonPatchColder)}, {reason(model.ReasonPatchColder), reason(model.ReasonPatchOld)}, {reason(model.ReasonPatchLot)}, {reason(model.ReasonPatch)},
		}[by.IntN(5)]
	}
}
