package alerts_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/model"
)

// follower steps the real table, in a shop whose wall clock is two hours east of Greenwich.
func follower(t *testing.T) *alerts.Evaluator {
	t.Helper()
	e, err := alerts.NewEvaluator(alerts.Table(), time.FixedZone("shop", 2*60*60))
	require.NoError(t, err)
	return e
}

func names(active []alerts.Alert) []string {
	out := []string{}
	for _, a := range active {
		out = append(out, a.Name)
	}
	return out
}

func TestQuietShopCallsNobody(t *testing.T) {
	e := follower(t)
	for minute := range 60 {
		require.Empty(t, e.Step(quietShop(after(time.Duration(minute)*time.Minute))))
	}
	require.Empty(t, e.Active())
}

func TestStandingsThatCall(t *testing.T) {
	calls := map[model.StepKind]map[model.Standing]string{
		model.CoatDry:     {model.Ready: "PourwardCoatDry"},
		model.ReleaseDry:  {model.Ready: "PourwardReleaseDry"},
		model.WorkingLife: {model.Ending: "PourwardWorkingLifeEnding", model.Over: "PourwardWorkingLifeOver"},
		model.LayerWindow: {model.Ready: "PourwardLayerWindowOpen", model.Ending: "PourwardLayerWindowClosing"},
		model.DemoldTime:  {model.Ready: "PourwardDemoldReady"},
	}
	for kind, byStanding := range calls {
		for _, standing := range model.Standings() {
			want := []string{}
			if name := byStanding[standing]; name != "" {
				want = append(want, name)
			}
			if standing == model.Doubtful {
				want = append(want, "PourwardDoubtful")
			}
			e := follower(t)
			e.Step(with(quietShop(begin), kind, standing))
			require.Equal(t, want, names(e.Active()), "%s %s", kind, standing)
		}
	}
}

// The alert stays until the maker records the next mark, and the words carry the time on the wall.
func TestReadyEndsByTheNextMark(t *testing.T) {
	e := follower(t)
	e.Step(with(quietShop(begin), model.CoatDry, model.Ready))
	for minute := range 300 {
		require.Empty(t, e.Step(with(quietShop(after(time.Duration(minute)*time.Minute)), model.CoatDry, model.Ready)))
	}
	want := alerts.Alert{
		Name: "PourwardCoatDry", Severity: alerts.Info, Since: begin, Passing: true,
		Labels:      map[string]string{"mold": "cornice", "step": "coat-1", "kind": "coat"},
		Summary:     "A seal coat is dry.",
		Description: "coat-1 on cornice counts as dry: nine in ten like it were by Thu 13:00.",
		WhatToDo:    "Touch it where it does not show, then go on: the next coat, the release agent, or the pour. Record what you do.",
	}
	require.Equal(t, []alerts.Alert{want}, e.Active())
	changes := e.Step(with(quietShop(after(6*time.Hour)), model.CoatDry, model.Closed))
	require.Equal(t, []alerts.Change{{Alert: want, Ended: true, At: after(6 * time.Hour)}}, changes)
	require.Empty(t, e.Active())
}

func TestReadyFiresWithoutATimeToTell(t *testing.T) {
	e := follower(t)
	s := with(quietShop(begin), model.DemoldTime, model.Ready)
	s.Outlook.Molds[0].Steps[0].Band = model.Band{}
	e.Step(s)
	require.Equal(t, "cornice may be demolded. A tacky cup or edge overrules this.", e.Active()[0].Description)
}

func TestDemoldedMoldCallsNobody(t *testing.T) {
	e := follower(t)
	s := with(quietShop(begin), model.DemoldTime, model.Ready)
	s.Outlook.Molds[0].Demolded = begin
	require.Empty(t, e.Step(s))
}

// air steps the shop with the bench at a temperature for some minutes; NaN stands for a silent probe.
func air(e *alerts.Evaluator, from, minutes int, tempC float64) {
	for i := range minutes {
		s := quietShop(after(time.Duration(from+i) * time.Minute))
		s.Outlook.Places[0].TempC, s.Outlook.Places[0].Known = tempC, !math.IsNaN(tempC)
		e.Step(s)
	}
}

func TestTooColdNeedsTenMinutesAndHalfAKelvinToEnd(t *testing.T) {
	e := follower(t)
	air(e, 0, 10, 17.9)
	require.Empty(t, e.Active(), "an open door is not a cold shop")
	air(e, 10, 1, 17.9)
	require.Equal(t, []string{"PourwardShopTooCold"}, names(e.Active()))
	require.Equal(t, "The air at bench is 17.9 °C: too cold to pour.", e.Active()[0].Description)
	air(e, 11, 30, 18.4)
	require.Len(t, e.Active(), 1, "not half a kelvin above the window yet")
	air(e, 41, 1, 18.5)
	require.Empty(t, e.Active())
}

func TestTooColdDoesNotEndBecauseTheProbeFellSilent(t *testing.T) {
	e := follower(t)
	air(e, 0, 11, 12)
	air(e, 11, 60, math.NaN())
	require.Equal(t, "The air at bench was too cold to pour when last measured, and is not known now.", e.Active()[0].Description)
	air(e, 71, 1, 20)
	require.Empty(t, e.Active())
}

// All winter the annex is cold; it matters only while a mold stands in it.
func TestColdShopWithoutAMoldCallsNobody(t *testing.T) {
	e := follower(t)
	for minute := range 60 {
		s := quietShop(after(time.Duration(minute) * time.Minute))
		s.Outlook.Places[0].TempC = 4
		s.Outlook.Molds[0].Demolded = begin
		e.Step(s)
	}
	require.Empty(t, e.Active())
}

func TestSilentProbe(t *testing.T) {
	e := follower(t)
	for minute := range 6 {
		s := quietShop(after(time.Duration(minute) * time.Minute))
		s.Outlook.Probes = []model.ProbeOutlook{{Name: "bench-air", Last: begin, Silent: true}, {Name: "spare", Silent: true}}
		e.Step(s)
	}
	require.Equal(t, []string{"PourwardProbeSilent", "PourwardProbeSilent"}, names(e.Active()))
	require.Equal(t, "Probe bench-air has given no trusted reading since Thu 10:00.", e.Active()[0].Description)
	require.Equal(t, "Probe spare has given no trusted reading.", e.Active()[1].Description)
}

func TestJournal(t *testing.T) {
	rows := map[string]struct {
		journal model.JournalHealth
		fires   bool
	}{
		"waiting for the next sync":    {model.JournalHealth{LastSync: after(-time.Minute), Waiting: 40}, false},
		"nothing to sync for an hour":  {model.JournalHealth{LastSync: after(-time.Hour)}, false},
		"waiting for too long":         {model.JournalHealth{LastSync: after(-6 * time.Minute), Waiting: 40}, true},
		"waiting, never synced":        {model.JournalHealth{Waiting: 40}, true},
		"a write failed":               {model.JournalHealth{LastSync: begin, Err: "no space left on device"}, true},
		"a write failed, some waiting": {model.JournalHealth{LastSync: begin, Waiting: 3, Err: "no space left on device"}, true},
	}
	for name, row := range rows {
		t.Run(name, func(t *testing.T) {
			e := follower(t)
			for minute := range 3 {
				s := quietShop(after(time.Duration(minute) * time.Minute))
				s.Health.Journal = row.journal
				if !row.fires && !row.journal.LastSync.IsZero() {
					s.Health.Journal.LastSync = s.Health.Journal.LastSync.Add(time.Duration(minute) * time.Minute)
				}
				e.Step(s)
			}
			require.Equal(t, row.fires, len(e.Active()) == 1)
		})
	}
}

// Just started, nothing has had to be made safe yet.
func TestJournalIsGivenTimeAfterTheStart(t *testing.T) {
	e := follower(t)
	for minute := range 5 {
		s := quietShop(after(time.Duration(minute) * time.Minute))
		s.Health.Started, s.Health.Journal = begin, model.JournalHealth{Waiting: 40}
		e.Step(s)
	}
	require.Empty(t, e.Active())
}
