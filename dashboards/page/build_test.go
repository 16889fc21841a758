package page

import (
	"context"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model"
	"pourward/model/material"
)

func TestThickness(t *testing.T) {
	for _, row := range rowsOf(t, "thickness.csv") {
		got, err := built{RubberMM: row["typed"]}.build(model.Begun)
		if row["mm"] == "refused" {
			require.Error(t, err, row["typed"])
			require.Equal(t, "Cannot read "+strconv.Quote(row["typed"])+" as the thickness of the rubber: write it in mm, such as 12 or 12.5 (one inch is 25.4 mm).", sentence(err.Error()))
			continue
		}
		want, err2 := strconv.ParseFloat(row["mm"], 64)
		require.NoError(t, err2)
		require.NoError(t, err, row["typed"])
		require.InDelta(t, want, got.RubberMM, 1e-12, row["source"])
	}
}

// A build put into a correction and sent back untouched is the same build.
func TestBuildSurvivesItsForm(t *testing.T) {
	mm := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(0, 50_000).Draw(t, "hundredths")) / 100 })
	rapid.Check(t, func(t *rapid.T) {
		b := model.Build{
			RubberMM: mm.Draw(t, "rubber"), PatternMM: mm.Draw(t, "pattern"), ShellMM: mm.Draw(t, "shell"),
			Pattern: rapid.SampledFrom(model.BuildMaterials()).Draw(t, "pattern of"), Shell: rapid.SampledFrom(model.BuildMaterials()).Draw(t, "shell of"),
		}
		got, err := builtOf(b).build(model.Begun)
		require.NoError(t, err)
		require.Equal(t, b, got)
	})
}

func FuzzThickness(f *testing.F) {
	for _, s := range []string{"", "12", "12,5", "1,200", "12 mm", "1/2\"", "NaN", "9e999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		mm, err := parseMM(s)
		require.True(t, mm >= 0 && mm <= math.MaxFloat64, "%q is %g", s, mm)
		if err != nil {
			require.Zero(t, mm)
		}
	})
}

func TestBuildIsTaken(t *testing.T) {
	h, k := withKeeper()
	form := url.Values{"kind": {"begun"}, "title": {"Cornice"}, "place": {"bench"}, "rubber_mm": {"12,5"}, "pattern": {"oil clay"}, "pattern_mm": {"40"}, "shell": {"wood"}, "shell_mm": {"18 mm"}}
	require.Equal(t, http.StatusOK, post(t, h, "/marks", form, asJSON).Code)
	require.Equal(t, model.Build{Pattern: "oil clay", PatternMM: 40, RubberMM: 12.5, Shell: "wood", ShellMM: 18}, k.marks[0].Build)

	w := post(t, h, "/marks", url.Values{"kind": {"poured"}, "mold": {"corner"}, "rubber_mm": {"12"}}, asJSON)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	require.JSONEq(t, `{"error":"How thick a mold is belongs to the mark by which it was begun: correct that one."}`, w.Body.String())
	require.Len(t, k.marks, 1)
}

// What the form offers can be chosen, and what the model refuses comes back with all that was typed.
func TestBuildBeforeTheModel(t *testing.T) {
	shop, err := model.NewShop(model.Setup{Places: []string{"bench"}, Shelf: material.Generic()})
	require.NoError(t, err)
	o := cannedOptions(annex())
	o.Record = func(_ context.Context, m model.Mark) (model.Mark, error) { return m, shop.Accept(m) }
	h := New(o)
	form := url.Values{"kind": {"begun"}, "title": {"Cornice"}, "mold": {"cornice"}, "place": {"bench"}, "rubber_mm": {"12,5"}, "pattern": {""}, "pattern_mm": {""}, "shell": {""}, "shell_mm": {""}}
	for _, of := range append(buildMaterials("", "none"), option{}) {
		form.Set("pattern", of.Value)
		form.Set("pattern_mm", map[bool]string{true: "40", false: ""}[of.Value != ""])
		require.Equal(t, http.StatusOK, post(t, h, "/marks", form, asJSON).Code, of.Value)
	}
	for name, wrong := range map[string]struct{ rubber, pattern, patternMM, says string }{
		"too thick":    {"9999", "", "", "The rubber cannot be 9999 mm thick"},
		"no rubber":    {"", "plaster", "40", "A build needs the thickness of the rubber in mm"},
		"no material":  {"12", "", "40", "The pattern has a thickness but no material"},
		"no thickness": {"12", "plaster", "", "The pattern of plaster needs a thickness in mm"},
		"unknown":      {"12", "butter", "40", "Nothing is known of the heat in &#34;butter&#34;"},
		"no number":    {"1/2", "plaster", "40", "Cannot read &#34;1/2&#34; as the thickness of the rubber"},
	} {
		form.Set("rubber_mm", wrong.rubber)
		form.Set("pattern", wrong.pattern)
		form.Set("pattern_mm", wrong.patternMM)
		form.Set("shell", "wood")
		form.Set("shell_mm", "18")
		w := post(t, h, "/marks", form, nil)
		page := w.Body.String()
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, name)
		require.Contains(t, page, "Not recorded. "+wrong.says, name)
		again := formsOf(t, page)
		for field := range form {
			require.Equal(t, form.Get(field), again[0].Get(field), "%s: %s", name, field)
		}
		require.Contains(t, page, `<details class="thick" open>`, name)
	}
}

func TestBuildIsCorrected(t *testing.T) {
	h, k := withKeeper()
	page := get(t, h, "/molds/rosette").Body.String()
	require.Contains(t, plain(page), "12.5 mm of rubber, on 60 mm of plaster, under 18 mm of wood.")
	require.Contains(t, page, `id="mark-begun-4-rubber-mm" name="rubber_mm" value="12.5"`)
	for _, f := range formsOf(t, page) {
		if f.Get("corrects") != "4" || f.Get("kind") != "begun" {
			continue
		}
		require.Equal(t, http.StatusSeeOther, post(t, h, "/marks", f, nil).Code)
	}
	require.Len(t, k.marks, 1)
	require.Equal(t, curing().Marks[0].Build, k.marks[0].Build)

	w := post(t, h, "/marks", url.Values{"kind": {"begun"}, "mold": {"rosette"}, "corrects": {"4"}, "place": {"bench"}, "rubber_mm": {"half an inch"}}, nil)
	require.Contains(t, w.Body.String(), `id="mark-begun-4-rubber-mm" name="rubber_mm" value="half an inch"`)
}
