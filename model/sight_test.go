package model

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/plan"
)

func TestSightIsWhatTheOutlookGoesBy(t *testing.T) {
	s, now := sightShop(t)
	sight, err := s.Sight("bench", now)
	require.NoError(t, err)
	require.Equal(t, pathCount, sight.Paths.N)
	st := sight.Stuffs["platinum-slow"]
	require.Equal(t, (4 * time.Hour).Seconds(), st.Demold.Seconds)
	require.Equal(t, noLagSD, st.Demold.Spread.LagSD)
	require.False(t, sight.Stuffs["lacquer"].Demold.Known())
	require.Equal(t, time.Hour, sight.Stuffs["lacquer"].Coat.Ref)

	// What is planned for a pour now is when the outlook of that pour says nine in ten, but for the spread of
	// the paths, which has closed in a steady shop.
	markWork(t, s, now, Mark{Kind: Begun, Place: "bench", Material: "platinum-slow"}, Mark{Kind: Mixed}, Mark{Kind: Poured})
	steps := s.Outlook(now).Molds[0].Steps
	told := steps[len(steps)-1].Band
	p, err := plan.Make(plan.Request{
		Sight: sight, Course: plan.Course{{Material: "platinum-slow", Times: 1}}, Now: now, By: now.Add(60 * time.Hour), Begin: now,
		Hours: plan.Hours{{Days: [7]bool{true, true, true, true, true, true, true}, To: 24 * time.Hour}},
	})
	require.NoError(t, err)
	cure := p.Actions[1].Ready.Likely.Sub(p.Actions[0].Begin.Likely) - 25*time.Minute // the mixing
	require.InEpsilon(t, told.Latest.Sub(now).Minutes(), cure.Minutes(), 0.1)
}

func TestSightSaysWhyThereIsNone(t *testing.T) {
	s, now := sightShop(t)
	_, err := s.Sight("moon", now)
	require.ErrorContains(t, err, `no place is called "moon"`)
	_, err = s.Sight("bench", now.Add(time.Hour))
	require.ErrorContains(t, err, "is silent")
	_, err = s.Sight("shelf", now)
	require.ErrorContains(t, err, "no probe sits at shelf")
	_, err = s.Sight("box", now)
	require.ErrorContains(t, err, "has not said anything yet")
}

// sightShop is a shop that has been steady for four days.
func sightShop(t *testing.T) (*Shop, time.Time) {
	t.Helper()
	s, err := NewShop(Setup{Places: []string{"bench", "shelf", "box"}, Probes: []Probe{
		{Name: "air", Place: "bench", Every: 5 * time.Minute}, {Name: "box-air", Place: "box", Every: time.Minute}}})
	require.NoError(t, err)
	at, now := begin().AddDate(0, 0, -4), begin()
	for ; !at.After(now); at = at.Add(5 * time.Minute) {
		s.Reading(airReading("air", at, 21, 0.45))
	}
	return s, now
}
