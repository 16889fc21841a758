package alerts_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

func patch(state model.PatchState, latest time.Time) func(*model.Snapshot) {
	return func(s *model.Snapshot) {
		p := model.PatchOutlook{Name: "p1", State: state}
		p.Cure.Band.Latest = latest
		s.Outlook.Patches = []model.PatchOutlook{p}
	}
}

func TestAPatchCallsOnlyWhileItIsDue(t *testing.T) {
	for _, state := range model.PatchStates() {
		want := []string{}
		if state == model.PatchDue {
			want = []string{"PourwardPatchDue"}
		}
		require.Equal(t, want, names(minutes(follower(t), 0, 1, patch(state, after(0)))), state)
	}
	e := follower(t)
	told := minutes(e, 60, 61, patch(model.PatchDue, after(50*time.Minute)))
	require.Equal(t, "Patch p1 wants to be touched, and its cup: nine in ten like it were firm by Thu 10:50.", told[0].Description)
	told = minutes(e, 61, 62, patch(model.PatchDue, time.Time{}))
	require.Equal(t, "Patch p1 wants to be touched, and its cup.", told[0].Description)
	require.Empty(t, minutes(e, 62, 63, patch(model.PatchPassed, after(0))))
}

// vouched lets a patch vouch for the mold, or tells why none does.
func vouched(reasons ...model.ReasonCode) func(*model.Snapshot) {
	return func(s *model.Snapshot) {
		m := &s.Outlook.Molds[0]
		if len(reasons) == 0 {
			m.Vouch = &model.Vouch{Patch: "p1"}
		}
		for _, code := range reasons {
			m.Pour.Reasons = append(m.Pour.Reasons, model.Reason{Code: code, Caution: true})
		}
	}
}

func TestAPatchThatNoLongerVouchesCalls(t *testing.T) {
	says := map[model.ReasonCode]string{
		model.ReasonPatchColder: "it is colder there than the patch was, or will be before a pour has cured",
		model.ReasonPatchOld:    "it passed too long ago",
		model.ReasonPatchLot:    "the rubber is of another lot",
	}
	for code, why := range says {
		e := follower(t)
		require.Empty(t, minutes(e, 0, 10, vouched()))
		require.Empty(t, minutes(e, 10, 40, vouched(code)), "a forecast may change its mind")
		told := minutes(e, 40, 41, vouched(code))
		require.Equal(t, []string{"PourwardPatchNoLongerVouches"}, names(told))
		require.Equal(t, "The test patch that vouched for cornice does so no more: "+why+".", told[0].Description)
		require.Len(t, minutes(e, 41, 12*60, vouched(code)), 1, "it stays, however long ago the patch vouched")
		require.Len(t, minutes(e, 12*60, 12*60+30, vouched()), 1, "it lingers")
		require.Empty(t, minutes(e, 12*60+30, 12*60+31, vouched()))
	}
}

func TestWhatNeverVouchedIsNoLoss(t *testing.T) {
	require.Empty(t, minutes(follower(t), 0, 120, vouched(model.ReasonPatchColder)))
	e := follower(t)
	minutes(e, 0, 1, vouched())
	require.Empty(t, minutes(e, 1, 120, vouched(model.ReasonPatch)), "the maker changed what is to be poured on")
	require.Empty(t, minutes(e, 120, 6*60+1, func(*model.Snapshot) {}))
	require.Empty(t, minutes(e, 6*60+1, 8*60, vouched(model.ReasonPatchColder)), "it vouched more than six hours ago")
}

func TestALossIsNoMatterOncePoured(t *testing.T) {
	e := follower(t)
	minutes(e, 0, 1, vouched())
	poured := both(vouched(model.ReasonPatchColder), func(s *model.Snapshot) { s.Outlook.Molds[0].Poured = true })
	require.Empty(t, minutes(e, 1, 60, poured))
}
