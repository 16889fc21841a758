package metrics

import (
	"slices"
	"strings"

	"pourward/model"
)

// Names of what tells of test patches, and of what was tried with them.
const (
	PatchInfo      = "pourward_patch_info"
	PatchSet       = "pourward_patch_set_timestamp_seconds"
	PatchState     = "pourward_patch_state"
	PatchTouchFrom = "pourward_patch_touch_from_timestamp_seconds"

	TrialResult  = "pourward_trial_result"
	TrialMeanC   = "pourward_trial_proven_mean_celsius"
	TrialLowestC = "pourward_trial_proven_lowest_celsius"
)

func patchesTable() []Metric {
	const patch = "patch"
	tried := func() []string { return []string{"face", "prep", "material"} }
	return []Metric{
		plain(PatchInfo, Facts, "What each test patch is, and where it lies: of those that wait to be read, and of the newest of each trial. The prep is empty on a bare face. Always 1.",
			append([]string{patch, "place", "lot"}, tried()...)...),
		moment(PatchSet, "When the patch was set.", patch),
		states(PatchState, "Where the patch stands: the state that holds is 1, the others are 0.", patch),
		moment(PatchTouchFrom, "From when on a touch tells how the patch stands: nine in ten like it are firm by then. Absent where that cannot be told, and once it was read or given up.", patch),
		states(TrialResult, "What all patches of one face, prep and material say together: the result that holds is 1, the others are 0. The prep is empty on a bare face.", tried()...),
		quantity(TrialMeanC, celsius, "Mean air temperature over which the patch that passed in the greatest cold grew firm. Absent where none passed, where a later one failed, and where it is not known.", tried()...),
		quantity(TrialLowestC, celsius, "Lowest air temperature that this patch had until it was firm. Absent where the mean is.", tried()...),
	}
}

func collectPatches(to sink, o *model.Outlook) {
	for i := range o.Patches {
		if p := &o.Patches[i]; p.Open() || newest(o, p.Name) {
			collectPatch(to, p)
		}
	}
	for i := range o.Trials {
		collectTrial(to, &o.Trials[i])
	}
}

// newest reports whether a patch is the newest of its trial. Those before it are told of by the trial alone,
// so that series do not grow in number with every patch ever set.
func newest(o *model.Outlook, patch string) bool {
	return slices.ContainsFunc(o.Trials, func(t model.Trial) bool { return len(t.Patches) > 0 && t.Patches[0] == patch })
}

func collectPatch(to sink, p *model.PatchOutlook) {
	to.put(PatchInfo, 1, append([]string{p.Name, p.Place, p.Lot}, tried(p.Face, p.Prep, p.Material)...)...)
	to.instant(PatchSet, p.Set, p.Name)
	putStates(to, PatchState, model.PatchStates(), p.State, p.Name)
	if p.Open() {
		to.instant(PatchTouchFrom, p.TouchFrom(), p.Name)
	}
}

func collectTrial(to sink, t *model.Trial) {
	of := tried(t.Face, t.Prep, t.Material)
	putStates(to, TrialResult, model.TrialResults(), t.Result, of...)
	if t.Cold.Known {
		to.quantity(TrialMeanC, t.Cold.MeanC, of...)
		to.quantity(TrialLowestC, t.Cold.LowestC, of...)
	}
}

// tried are the labels of what was tried. The face is written as faces are compared, so that another way of
// typing it makes no other series.
func tried(face string, prep []string, material string) []string {
	return []string{model.PlainFace(face), strings.Join(prep, ", "), material}
}
