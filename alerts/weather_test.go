package alerts_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/model"
)

// forecast gives the bench a likely temperature at every hour from the outlook on.
func forecast(s *model.Snapshot, likelyC ...float64) {
	p := &s.Outlook.Places[0]
	p.Ahead = nil
	for hour, c := range likelyC {
		at := s.Outlook.At.Add(time.Duration(hour) * time.Hour)
		p.Ahead = append(p.Ahead, model.Reach{At: at, LowC: c - 3, LikelyC: c, HighC: c + 3})
	}
}

func TestColdestAheadLooksOneDayAhead(t *testing.T) {
	hours := make([]float64, 73)
	for i := range hours {
		hours[i] = 20
	}
	hours[0], hours[24], hours[25] = 5, 12, 3
	s := quietShop(begin)
	forecast(s, hours...)
	p := s.Outlook.Places[0]
	require.Equal(t, 12.0, alerts.ColdestAhead(p, begin), "now is not ahead, and the day after tomorrow is too far")
	require.Equal(t, 3.0, alerts.ColdestAhead(p, after(time.Hour)))
	require.True(t, math.IsNaN(alerts.ColdestAhead(p, after(72*time.Hour))), "all that was told has passed")
	require.True(t, math.IsNaN(alerts.ColdestAhead(model.PlaceOutlook{}, begin)))
}

// The shop is warm and the night will be cold.
func coldNight(s *model.Snapshot) { forecast(s, 21, 19, 17.9, 20) }

func TestColdComing(t *testing.T) {
	const name = "PourwardColdComing"
	e := follower(t)
	require.Empty(t, minutes(e, 0, 30, coldNight), "a forecast may waver")
	active := minutes(e, 30, 31, coldNight)
	require.Equal(t, []string{name}, names(active))
	require.Equal(t, "The air at bench is likely to fall below the pour window within 24 hours, down to 17.9 °C.", active[0].Description)

	active = minutes(e, 31, 60, func(s *model.Snapshot) { forecast(s, 21, 18.4) })
	require.Equal(t, []string{name}, names(active), "not half a kelvin above the window")
	active = minutes(e, 60, 90, func(*model.Snapshot) {})
	require.Equal(t, []string{name}, names(active), "knowing nothing of the night is no reason to end it")
	require.Equal(t, "The air at bench is likely to fall below the pour window within 24 hours.", active[0].Description)
	require.Empty(t, minutes(e, 90, 91, func(s *model.Snapshot) { forecast(s, 21, 18.5) }))
}

func TestColdComingGivesWayToTheCold(t *testing.T) {
	e := follower(t)
	require.Len(t, minutes(e, 0, 31, coldNight), 1)
	cold := func(s *model.Snapshot) { coldNight(s); s.Outlook.Places[0].TempC = 17.9 }
	require.Empty(t, minutes(e, 31, 32, cold), "two alerts never tell the same")
	require.Equal(t, []string{"PourwardShopTooCold"}, names(minutes(e, 32, 42, cold)))
	back := func(s *model.Snapshot) { coldNight(s); s.Outlook.Places[0].TempC = 18.4 }
	require.Equal(t, []string{"PourwardShopTooCold"}, names(minutes(e, 42, 120, back)), "nor by turns at the limit")
}

func TestColdComingIsNoNewsOncePoured(t *testing.T) {
	e := follower(t)
	require.Len(t, minutes(e, 0, 31, coldNight), 1)
	require.Empty(t, minutes(e, 31, 32, func(s *model.Snapshot) { coldNight(s); s.Outlook.Molds[0].Poured = true }))
}

func TestHeatingOff(t *testing.T) {
	off := func(s *model.Snapshot) { forecast(s, 21, 20); s.Outlook.Places[0].HeatedOff = true }
	on := func(s *model.Snapshot) { forecast(s, 21, 20) }
	e := follower(t)
	require.Empty(t, minutes(e, 0, 10, off))
	active := minutes(e, 10, 11, off)
	require.Equal(t, []string{"PourwardHeatingOff"}, names(active))
	require.Equal(t, "The air at bench falls as it does when the heating is off.", active[0].Description)
	require.Len(t, minutes(e, 11, 60, func(*model.Snapshot) {}), 1, "nothing is known")
	require.Empty(t, minutes(e, 60, 61, on))
	idle := func(s *model.Snapshot) { off(s); s.Outlook.Molds[0].Demolded = begin }
	require.Empty(t, minutes(follower(t), 0, 60, idle), "no mold stands there")
}

// because gives the mold and its place a reason not to pour.
func because(code model.ReasonCode) func(*model.Snapshot) {
	return func(s *model.Snapshot) {
		f := model.Fitness{Verdict: model.NotFit, Reasons: []model.Reason{{Code: code}}}
		s.Outlook.Molds[0].Pour, s.Outlook.Places[0].Pour = f, f
	}
}

func TestReasonsThatCall(t *testing.T) {
	for _, row := range []struct {
		code, silent model.ReasonCode
		name, says   string
		hold, keep   int
	}{
		{model.ReasonDew, model.ReasonSurface, "PourwardPatternNearDew",
			"The pattern of cornice is less than 3 °C (5 °F) above the dew point, or was when last measured.", 10, 30},
		{model.ReasonDamp, model.ReasonNoAir, "PourwardAirTooDamp",
			"The air at bench is above 85 % relative humidity, or was when last measured: too damp for a coat.", 15, 60},
	} {
		t.Run(row.name, func(t *testing.T) {
			e := follower(t)
			require.Empty(t, minutes(e, 0, row.hold, because(row.code)))
			active := minutes(e, row.hold, row.hold+1, because(row.code))
			require.Equal(t, []string{row.name}, names(active))
			require.Equal(t, row.says, active[0].Description)
			require.Len(t, minutes(e, 20, 200, because(row.silent)), 1, "a silent probe does not end it")
			require.Len(t, minutes(e, 200, 200+row.keep, func(*model.Snapshot) {}), 1, "it lingers: air at a limit goes to and fro")
			require.Empty(t, minutes(e, 200+row.keep, 201+row.keep, func(*model.Snapshot) {}))
			require.Empty(t, minutes(follower(t), 0, 60, because(row.silent)), "a silent probe does not begin it")
		})
	}
}

func TestOtherReasonsCallNobody(t *testing.T) {
	for _, code := range model.ReasonCodes() {
		if code != model.ReasonDew && code != model.ReasonDamp {
			require.Empty(t, minutes(follower(t), 0, 60, because(code)), code)
		}
	}
}

// Damp air matters to what dries in it: no more once a batch is mixed or the release agent is dry.
func TestCoatingEndsWithTheLastThingThatDries(t *testing.T) {
	steps := func(s ...model.Step) *model.MoldOutlook { return &model.MoldOutlook{Steps: s} }
	step := func(kind model.StepKind, standing model.Standing) model.Step {
		return model.Step{Kind: kind, Projection: model.Projection{Standing: standing}}
	}
	coat := step(model.CoatDry, model.Closed)
	require.True(t, alerts.Coating(steps()), "the first coat is next")
	require.True(t, alerts.Coating(steps(step(model.CoatDry, model.Running))))
	require.True(t, alerts.Coating(steps(step(model.CoatDry, model.Ready))), "the next coat or the release agent is next")
	require.True(t, alerts.Coating(steps(coat, step(model.ReleaseDry, model.Maybe))))
	require.False(t, alerts.Coating(steps(coat, step(model.ReleaseDry, model.Ready))), "the pour is next")
	require.True(t, alerts.Coating(steps(coat, step(model.ReleaseDry, model.Closed), step(model.CoatDry, model.Running))), "a coat over it")
	require.False(t, alerts.Coating(steps(coat, step(model.WorkingLife, model.Running))))
	require.False(t, alerts.Coating(&model.MoldOutlook{Poured: true}))
	require.False(t, alerts.Coating(&model.MoldOutlook{Demolded: begin}))
}
