package metrics_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// annexPatches are three test patches: one passed and another of the same kind waits to be touched, so that
// only the newer one shows; a third failed on bare plaster.
func annexPatches() ([]model.PatchOutlook, []model.Trial) {
	prep := []string{"lacquer", "lacquer", "wax-naphtha"}
	band := model.Band{Earliest: at(12, 0), Likely: at(13, 30), Latest: at(15, 0)}
	return []model.PatchOutlook{
			{Name: "p1", Face: "Gypsum plaster", Prep: prep, Material: "platinum-slow", Lot: "A7", Place: "bench", Set: at(0, 0), State: model.PatchPassed, ReadAt: at(7, 0)},
			{Name: "p2", Face: "Gypsum plaster", Material: "platinum-slow", Place: "bench", Set: at(0, 5), State: model.PatchFailed, ReadAt: at(7, 5)},
			{Name: "p3", Face: "gypsum-plaster", Prep: prep, Material: "platinum-slow", Lot: "B2", Place: "shelf", Set: at(9, 0), State: model.PatchDue, Cure: model.Projection{Band: band}},
		}, []model.Trial{
			{Face: "Gypsum plaster", Material: "platinum-slow", Result: model.TrialFailed, Patches: []string{"p2"}},
			{Face: "gypsum-plaster", Prep: prep, Material: "platinum-slow", Result: model.TrialPassed, Patches: []string{"p3", "p1"}, Cold: model.Cold{Known: true, LowestC: 12.25, MeanC: 14.5}},
		}
}

func TestPatchVanishesWithItsTrialOrByANewerOne(t *testing.T) {
	s := annex()
	require.NotContains(t, exposition(t, s), `patch="p1"`, "p3 is newer")
	require.Contains(t, exposition(t, s), `patch="p2"`)
	s.Outlook.Patches, s.Outlook.Trials = s.Outlook.Patches[:1], []model.Trial{{Face: "gypsum plaster", Material: "platinum-slow", Result: model.TrialPassed, Patches: []string{"p1"}}}
	got := exposition(t, s)
	require.Contains(t, got, `patch="p1"`)
	require.NotContains(t, got, "pourward_patch_touch_from_timestamp_seconds{", "it was read")
	require.NotContains(t, got, "pourward_trial_proven_mean_celsius{", "how cold it was is not known")
	s.Outlook.Patches, s.Outlook.Trials = nil, nil
	require.NotContains(t, exposition(t, s), "pourward_patch_")
	require.NotContains(t, exposition(t, s), "pourward_trial_")
}

// Another way of typing a face is no other face: the labels stay when the next patch is typed otherwise.
func TestFacesAreLabelledAsTheyAreCompared(t *testing.T) {
	s := annex()
	before := exposition(t, s)
	s.Outlook.Patches[2].Face, s.Outlook.Trials[1].Face = "  GYPSUM, plaster ", "Gypsum -- Plaster"
	require.Equal(t, before, exposition(t, s))
}
