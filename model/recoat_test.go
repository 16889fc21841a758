package model

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/material"
)

// A sealer that is dry in 60 min, takes its next coat from 2 h on and no later than 8 h, all at 23 °C: kept at just
// that the limits are the sheet's own, late in the band for the first (exp(1.2816 x 0.3) = 1.469 times, the 0.3 being
// what the reference data leave open of such a time) and early for the second (0.681 times).
func TestTheNextCoatGoesOnInsideTheLimitsOfItsSheet(t *testing.T) {
	shelf := material.Generic().With(material.Material{Name: "mine", Title: "Mine", Kind: material.Sealer, RefC: 23, Coat: material.Coat{
		Class: material.Lacquer, Ref: time.Hour, RefHumidity: 0.5, RecoatFrom: 2 * time.Hour, RecoatUntil: 8 * time.Hour}})
	s, err := NewShop(Setup{Places: []string{"bench", "pattern"}, Probes: []Probe{{Name: "air", Place: "bench", Every: time.Minute}}, Shelf: shelf})
	require.NoError(t, err)
	from, until := begin().Add(time.Duration(1.469*120*float64(time.Minute))), begin().Add(time.Duration(0.681*480*float64(time.Minute)))
	markWork(t, s, begin(), Mark{Kind: Begun, Place: "bench"}, Mark{Kind: CoatOn, Material: "mine"})
	say := func(hours float64) (*MoldOutlook, Recoat) {
		at := steady(s, begin(), time.Duration(hours*float64(time.Hour)), 23)
		o := s.Outlook(at)
		return &o.Molds[0], lastStep(o).Recoat
	}
	m, r := say(2)
	require.Equal(t, Ready, m.Steps[0].Standing, "dry")
	require.WithinDuration(t, from, r.From, 10*time.Minute, "by a forecast that two hours of readings allow")
	require.Equal(t, "Wait with the next coat: its data sheet asks for more than dry.", m.Next)
	require.Equal(t, r.From, m.NextAt)
	m, r = say(4)
	require.WithinDuration(t, from, r.From, 3*time.Minute)
	require.WithinDuration(t, until, r.Until, 20*time.Minute)
	require.Equal(t, "Put the next coat or the release agent on before it no longer bonds.", m.Next)
	m, r = say(6)
	require.WithinDuration(t, until, r.Until, 3*time.Minute)
	require.Equal(t, "Seal coat 1 may take no further coat as it is: sand it first, or as its data sheet says.", m.Next)
}

func TestAnUnstatedLimitIsNotTold(t *testing.T) {
	s := bench(t)
	markWork(t, s, begin(), Mark{Kind: Begun, Place: "bench"}, Mark{Kind: CoatOn, Material: "lacquer"})
	require.Zero(t, lastStep(s.Outlook(steady(s, begin(), 3*time.Hour, 23))).Recoat)
}
