package model

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/material"
)

// A film twice as thick as that of the sheet takes twice as long while the solvent leaves freely, and four times
// once it must come through the film (theory of two-stage drying, Songok 2012: linear in time, then with its
// root). A naphtha is all of the first; a lacquer half of each, an assumption: 15 min x 2 + 15 min x 4.
func TestAThickerFilmDriesLater(t *testing.T) {
	for _, row := range []struct {
		class  material.Class
		filmUM float64
		want   time.Duration
	}{
		{material.LightNaphtha, 0, 30 * time.Minute},
		{material.LightNaphtha, 30, 30 * time.Minute},
		{material.LightNaphtha, 60, 60 * time.Minute},
		{material.Lacquer, 60, 90 * time.Minute},
	} {
		shelf := material.Generic().With(material.Material{Name: "mine", Title: "Mine", Kind: material.Release, RefC: 23,
			Coat: material.Coat{Class: row.class, Ref: 30 * time.Minute, RefHumidity: 0.5, FilmMicrometers: 30}})
		s, err := NewShop(Setup{Places: []string{"bench", "pattern"}, Probes: []Probe{{Name: "air", Place: "bench", Every: time.Minute}}, Shelf: shelf})
		require.NoError(t, err)
		markWork(t, s, begin(), Mark{Kind: Begun, Place: "bench"}, Mark{Kind: ReleaseOn, Material: "mine", FilmUM: row.filmUM})
		at := steady(s, begin(), 10*time.Hour, 23)
		got := lastStep(s.Outlook(at)).Band.Likely.Sub(begin())
		require.InDelta(t, row.want.Minutes(), got.Minutes(), 0.5, "%v %g µm", row.class, row.filmUM)
	}
}
