package main

import (
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/dashboards/page"
	"pourward/model"
	"pourward/model/material"
)

// A mold on record is weighed for by the size that was told when it was begun: 1000 cm² at 1.5 mm are 150 mL
// a layer, and at 1.15 g/mL 172.5 g.
func TestBatchOfAMoldOnRecord(t *testing.T) {
	at := time.Date(2026, 1, 14, 8, 0, 0, 0, time.UTC)
	shop, err := model.NewShop(model.Setup{Places: []string{"bench"}})
	require.NoError(t, err)
	require.NoError(t, shop.Mark(model.Mark{ID: 1, Kind: model.Begun, Mold: "frieze", Place: "bench", Material: "platinum-slow", At: at,
		Design: model.Design{Method: model.Brushed, Layers: 3, LayerMM: 1.5, AreaCM2: 1000}}))
	require.NoError(t, shop.Mark(model.Mark{ID: 2, Kind: model.Begun, Mold: "corbel", Place: "bench", At: at}))
	daemon := httptest.NewServer(page.New(page.Options{
		Shelf: material.Generic(), Now: func() time.Time { return at },
		Snapshot: func() *model.Snapshot { return &model.Snapshot{Outlook: shop.Outlook(at)} },
	}))
	defer daemon.Close()
	ask := func(args ...string) (string, string) {
		var out, errs strings.Builder
		run(t.Context(), append([]string{"batch", "-to", daemon.URL}, args...), &out, &errs)
		return out.String(), errs.String()
	}
	out, errs := ask("-mold", "frieze")
	require.Empty(t, errs)
	require.Contains(t, out, "platinum-slow: 172.5 g in all, about 150 mL; fills one of 3 layers, 150 mL\n")
	require.Contains(t, out, "to brush it: about 1 % of a thixotropic additive")
	_, errs = ask("-mold", "corbel")
	require.Equal(t, "pourward batch: say what is mixed: give -material, or -mold with a rubber planned\n", errs)
	_, errs = ask("-mold", "corbel", "-material", "tin-silicone")
	require.Equal(t, "pourward batch: the size of the mold is not told: give length, width and depth of its box, or grams\n", errs)
	_, errs = ask("-mold", "gable")
	require.Equal(t, "pourward batch: no mold called \"gable\" is in work there\n", errs)

	file := filepath.Join(t.TempDir(), "shop.yml")
	require.NoError(t, os.WriteFile(file, []byte("scale: {step: 1}"), 0o600))
	_, errs = ask("-config", file, "-material", "plaster", "-grams", "100")
	require.Contains(t, errs, `scale.step: "1" has no unit`)
}
