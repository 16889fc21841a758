package page

import (
	"context"
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/sensors"
)

// patched is a shop in a cold annex that has read three patches and waits for two; told by the model itself.
func patched(t *testing.T) *model.Snapshot {
	t.Helper()
	shop, err := model.NewShop(model.Setup{
		Places: []string{"bench", "warm box"}, Zone: berlin(),
		Probes: []model.Probe{{Name: "air", Place: "bench", Every: 10 * time.Minute}, {Name: "box", Place: "warm box", Every: 10 * time.Minute}},
	})
	require.NoError(t, err)
	for at := hm(-6, 0, 0); !at.After(thursday()); at = at.Add(10 * time.Minute) {
		shop.Reading(sensors.Reading{Probe: "air", At: at, Temp: sensors.GoodMeasure(18), Humidity: sensors.GoodMeasure(0.55)})
		shop.Reading(sensors.Reading{Probe: "box", At: at, Temp: sensors.GoodMeasure(24), Humidity: sensors.GoodMeasure(0.4)})
	}
	for i, m := range []model.Mark{
		{Mold: "p1", Kind: model.PatchOn, At: hm(-5, 9, 0), Place: "bench", Material: "platinum-slow", Face: "oil clay"},
		{Mold: "p1", Kind: model.Checked, At: hm(-5, 19, 0), Of: model.Cup, Found: model.Firm},
		{Mold: "p1", Kind: model.Checked, At: hm(-5, 19, 1), Of: model.Patch, Found: model.Tacky},
		{Mold: "p2", Kind: model.PatchOn, At: hm(-4, 9, 0), Place: "bench", Material: "platinum-slow", Face: "Oil-clay", Prep: []string{"lacquer", "lacquer", "wax-naphtha"}, Batch: model.Batch{Lot: "A7"}},
		{Mold: "p2", Kind: model.Checked, At: hm(-4, 18, 30), Of: model.Cup, Found: model.Firm},
		{Mold: "p2", Kind: model.Checked, At: hm(-4, 18, 31), Of: model.Patch, Found: model.Firm},
		{Mold: "p3", Kind: model.PatchOn, At: hm(-3, 9, 0), Place: "warm box", Material: "platinum-slow", Face: "plaster", Prep: []string{"lacquer"}},
		{Mold: "p3", Kind: model.Checked, At: hm(-3, 18, 0), Of: model.Patch, Found: model.Firm},
		{Mold: "p4", Kind: model.PatchOn, At: hm(0, 6, 0), Place: "bench", Material: "platinum-slow", Face: "resin print", Prep: []string{"lacquer"}},
		{Mold: "p5", Kind: model.PatchOn, At: hm(0, 17, 0), Place: "bench", Material: "platinum-slow", Face: "plaster", Prep: []string{"shellac"}},
		{Mold: "frieze", Kind: model.Begun, At: hm(0, 8, 0), Title: "Frieze, left end", Place: "bench", Material: "platinum-slow", Face: "oil clay"},
		{Mold: "frieze", Kind: model.CoatOn, At: hm(0, 9, 0), Material: "lacquer"},
		{Mold: "frieze", Kind: model.CoatOn, At: hm(0, 12, 0), Material: "lacquer"},
		{Mold: "frieze", Kind: model.ReleaseOn, At: hm(0, 16, 0), Material: "wax-naphtha"},
		{Mold: "panel", Kind: model.Begun, At: hm(0, 10, 0), Place: "bench", Material: "platinum-slow", Face: "plaster"},
		{Mold: "panel", Kind: model.CoatOn, At: hm(0, 11, 0), Material: "lacquer"},
	} {
		m.ID, m.Entered = int64(i+1), m.At
		require.NoError(t, shop.Mark(m))
	}
	return &model.Snapshot{Outlook: shop.Outlook(thursday()), Health: model.Health{Started: hm(-6, 0, 0), ClockTrusted: true}}
}

func TestGoldenPatches(t *testing.T) {
	h := New(cannedOptions(patched(t)))
	for name, path := range map[string]string{
		"patches": "/patches", "patch-failed": "/patches/p1", "patch-curing": "/patches/p5",
		"mold-vouched": "/molds/frieze", "mold-colder": "/molds/panel",
	} {
		golden(t, name, get(t, h, path).Body.String())
	}
	golden(t, "patches-refused", post(t, h, "/marks", url.Values{
		"kind": {"patch on"}, "mold": {"p6"}, "face": {"oil clay"}, "prep": {"lacquer", "", "wax-naphtha"}, "material": {"platinum-slow"},
		"place": {"bench"}, "at": {"soon"}}, nil).Body.String())
}

// A prep typed by selects comes in order, without the layers left out, and leads to the patch.
func TestSetAndCheckAPatch(t *testing.T) {
	opts := cannedOptions(patched(t))
	var got []model.Mark
	keep := opts.Record
	opts.Record = func(ctx context.Context, m model.Mark) (model.Mark, error) { got = append(got, m); return keep(ctx, m) }
	h := New(opts)
	w := post(t, h, "/marks", url.Values{
		"kind": {"patch on"}, "mold": {"p6"}, "face": {"oil clay"}, "prep": {"lacquer", "", "wax-naphtha", ""}, "material": {"platinum-slow"},
		"place": {"bench"}, "lot": {"A7"}, "parts": {"A 10 g, B 1 g"}}, nil)
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Regexp(t, `^/patches/p6\?marked=`, w.Header().Get("Location"))
	require.Equal(t, []string{"lacquer", "wax-naphtha"}, got[0].Prep)
	require.Equal(t, "A7", got[0].Batch.Lot)
	require.InDelta(t, 11, got[0].Batch.TotalGrams(), 0)
	w = post(t, h, "/marks", url.Values{"kind": {"checked"}, "mold": {"p5"}, "of": {"patch"}, "found": {"firm"}}, nil)
	require.Regexp(t, `^/patches/p5\?marked=`, w.Header().Get("Location"))
	require.Contains(t, get(t, h, "/patches/none").Body.String(), "No such patch")
}
