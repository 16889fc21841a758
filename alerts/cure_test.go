package alerts_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// curing puts rubber on the mold whose cure is told for these hours of the day that begins with begin.
func curing(standing model.Standing, earliest, latest float64) func(*model.Snapshot) {
	return func(s *model.Snapshot) {
		m := &s.Outlook.Molds[0]
		m.Poured = true
		hour := func(h float64) time.Time { return after(time.Duration(h * float64(time.Hour))) }
		p := model.Projection{Standing: standing, Band: model.Band{Earliest: hour(earliest), Likely: hour((earliest + latest) / 2), Latest: hour(latest)}}
		m.Steps = append(m.Steps, model.Step{Kind: model.DemoldTime, Name: "cure", Begun: begin, Projection: p})
	}
}

func both(a, b func(*model.Snapshot)) func(*model.Snapshot) {
	return func(s *model.Snapshot) { a(s); b(s) }
}

func TestSlippingBeyondTheLatestTimeCalls(t *testing.T) {
	e := follower(t)
	require.Empty(t, minutes(e, 0, 60, curing(model.Running, 5, 7)))
	require.Empty(t, minutes(e, 60, 120, curing(model.Running, 6, 8)), "the likely time is the latest told before")
	slipped := curing(model.Running, 6.25, 8.5)
	require.Empty(t, minutes(e, 120, 130, slipped), "one odd forecast is no slip")
	active := minutes(e, 130, 131, slipped)
	require.Equal(t, []string{"PourwardDemoldSlipping"}, names(active))
	require.Equal(t, "cure on cornice will hardly be done by the latest time told within the last six hours: rather Thu 17:22 or later.", active[0].Description)
	require.Len(t, minutes(e, 131, 59+6*60+1, slipped), 1, "the earlier time was told six hours ago")
	require.Empty(t, minutes(e, 59+6*60+1, 59+6*60+2, slipped), "what was told is forgotten")
}

func TestSlippingPastWhatCanBeForeseenCalls(t *testing.T) {
	e := follower(t)
	minutes(e, 0, 60, curing(model.Running, 5, 7))
	active := minutes(e, 60, 71, func(s *model.Snapshot) {
		curing(model.CannotSay, 0, 0)(s)
		cure := &s.Outlook.Molds[0].Steps[0]
		cure.Band, cure.NotBefore = model.Band{}, after(30*time.Hour)
	})
	require.Equal(t, []string{"PourwardDemoldSlipping"}, names(active))
}

func TestCorrectedMarkIsNoSlip(t *testing.T) {
	e := follower(t)
	minutes(e, 0, 60, curing(model.Running, 5, 7))
	corrected := both(curing(model.Running, 9, 11), func(s *model.Snapshot) { s.Outlook.Molds[0].Steps[0].Begun = after(4 * time.Hour) })
	require.Empty(t, minutes(e, 60, 10*60, corrected))
}

func TestSlippingEndsWithTheCure(t *testing.T) {
	e := follower(t)
	minutes(e, 0, 60, curing(model.Running, 1, 2))
	require.Len(t, minutes(e, 60, 71, curing(model.Running, 3, 4)), 1)
	require.Equal(t, []string{"PourwardDemoldReady"}, names(minutes(e, 71, 72, curing(model.Ready, 3, 4))))
}

func touchedAt(of model.Subject, minute int) func(*model.Snapshot) {
	return func(s *model.Snapshot) {
		mark := model.Mark{Kind: model.Checked, Of: of, Found: model.Tacky, At: after(time.Duration(minute) * time.Minute)}
		s.Outlook.Molds[0].Marks = append(s.Outlook.Molds[0].Marks, mark)
	}
}

func TestTouchIsDueOnceItMayBeFirm(t *testing.T) {
	maybe := curing(model.Maybe, 1, 3)
	e := follower(t)
	require.Empty(t, minutes(e, 60, 75, maybe))
	active := minutes(e, 75, 76, both(maybe, touchedAt(model.Cup, 59)))
	require.Equal(t, []string{"PourwardTouchDue"}, names(active), "a touch before it could be firm does not count")
	require.Equal(t, "cure on cornice may be firm by now, and only a touch can tell.", active[0].Description)
	require.Len(t, minutes(e, 76, 77, both(maybe, touchedAt(model.Coat, 76))), 1, "nor does a coat")
	require.Empty(t, minutes(e, 77, 78, both(maybe, touchedAt(model.Cup, 77))), "it was touched")
}

// left is a cure past its latest time that what was found leaves open.
func left(d model.Doubt) func(*model.Snapshot) {
	return both(curing(model.CannotSay, -3, -1), func(s *model.Snapshot) { s.Outlook.Molds[0].Doubt = &d })
}

func TestTouchIsDueWhereItWasLeftOpen(t *testing.T) {
	open := model.Doubt{Verdict: "cannot say yet", Next: "Touch the mold."}
	require.Equal(t, []string{"PourwardTouchDue"}, names(minutes(follower(t), 0, 16, left(open))))
	rows := map[string]model.Doubt{
		"it is not time yet":         {Verdict: "cannot say yet", Next: "Touch the mold.", NextAt: after(time.Hour)},
		"no touch is worth the walk": {Verdict: "cannot say yet"},
		"it is settled":              {Verdict: "fine", Next: "Touch the mold."},
	}
	for name, d := range rows {
		require.Empty(t, minutes(follower(t), 0, 30, left(d)), name)
	}
	early := func(s *model.Snapshot) { curing(model.CannotSay, 1, 3)(s); s.Outlook.Molds[0].Doubt = &open }
	require.Empty(t, minutes(follower(t), 0, 30, early), "before its time, now may mean that it cannot be foreseen")
}

func TestAColdNightDuringACureCalls(t *testing.T) {
	cold := both(curing(model.Running, 10, 14), func(s *model.Snapshot) { s.Outlook.Molds[0].Steps[0].ColdFrom = after(7 * time.Hour) })
	e := follower(t)
	require.Empty(t, minutes(e, 0, 30, cold), "a forecast that changes its mind calls nobody")
	active := minutes(e, 30, 31, cold)
	require.Equal(t, []string{"PourwardCureChills"}, names(active))
	require.Equal(t, "The air around cornice is likely to be too cold for its cure from Thu 17:00 on.", active[0].Description)
	require.Len(t, minutes(e, 31, 60, curing(model.Running, 10, 14)), 1, "it lingers")
	require.Empty(t, minutes(e, 61, 62, curing(model.Running, 10, 14)))
}
