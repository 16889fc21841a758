package grafana

import (
	"github.com/grafana/grafana-foundation-sdk/go/units"

	"pourward/dashboards/metrics"
	"pourward/model"
)

func patchStates() []state {
	return []state{
		{string(model.PatchCuring), inkColour}, {string(model.PatchDue), strawColour}, {string(model.PatchPassed), pineColour},
		{string(model.PatchFailed), clayColour}, {string(model.PatchBadBatch), clayColour}, {string(model.PatchUnsure), slateColour},
	}
}

func trialResults() []state {
	return []state{
		{string(model.TrialOpen), slateColour}, {string(model.TrialPassed), pineColour},
		{string(model.TrialFailed), clayColour}, {string(model.TrialDisagree), strawColour},
	}
}

// patchPanels show what was tried on a scrap before it is done on the pattern.
func patchPanels() panels {
	const tried = "{{material}} on {{face}} {{prep}}"
	return panels{
		course("Patches", "Those that wait to be read, and the newest of each trial.", half, patchStates(),
			query{holding(metrics.PatchState, patchStates()), "{{patch}}"}),
		course("What they say together", "Of each face, prep and material that was tried.", half, trialResults(),
			query{holding(metrics.TrialResult, trialResults()), tried}),
		lines("Until a patch is to be touched", "Nine in ten like it are firm by then.", left, third,
			query{until(chosen(metrics.PatchTouchFrom)), "{{patch}}"}),
		lines("Proven down to", "Air that the coldest patch which passed had until it was firm. A patch vouches for nothing colder.", units.Celsius, third,
			query{chosen(metrics.TrialMeanC), tried + ", mean"}, query{chosen(metrics.TrialLowestC), tried + ", lowest"}),
		course("A patch vouches for the mold", "", third, flag(state{"none does", strawColour}, state{"vouched for", pineColour}),
			query{chosen(metrics.MoldVouched), "{{mold}}"}),
	}
}
