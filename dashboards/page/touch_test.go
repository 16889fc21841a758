package page

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/material"
)

// buttonsOf reads what the buttons of a form say, by what they send.
func buttonsOf(t *testing.T, page, form string) (sent []string, first map[string]string) {
	t.Helper()
	_, rest, ok := strings.Cut(page, `id="`+form+`"`)
	require.True(t, ok)
	rest, _, _ = strings.Cut(rest, "</form>")
	for _, e := range elements(t, "<p>"+rest[strings.Index(rest, ">")+1:]+"</p>") {
		if e.name != "button" {
			continue
		}
		if first == nil {
			first = e.attrs
		}
		if v := e.attrs["value"]; v != "" {
			sent = append(sent, v)
		}
	}
	return sent, first
}

func TestEveryFindingHasItsButton(t *testing.T) {
	h, k := withKeeper()
	page := get(t, h, "/molds/rosette").Body.String()
	for _, form := range []string{"mark-checked", "mark-checked-10"} {
		sent, first := buttonsOf(t, page, form)
		require.Equal(t, []string{"firm", "tacky", "liquid", "surface spoiled"}, sent)
		// HTML, "Implicit submission": Enter in a field presses the first submit button, and nothing where that is disabled.
		require.Contains(t, first, "disabled", form)
		require.NotContains(t, first, "value", form)
	}
	require.Contains(t, page, ">It is liquid<")
	require.Contains(t, page, ">It was liquid<")
	for _, f := range model.Findings() {
		form := url.Values{"kind": {"checked"}, "mold": {"rosette"}, "of": {"patch"}, "found": {string(f)}}
		require.Equal(t, http.StatusSeeOther, post(t, h, "/marks", form, nil).Code)
		require.Equal(t, f, k.marks[len(k.marks)-1].Found)
	}
	require.Contains(t, get(t, h, "/molds/volute").Body.String(), "checked: mold surface spoiled")
}

// What the page takes for a finding, the model takes too, and the other way round.
func TestFindingsAsTheModelJudgesThem(t *testing.T) {
	shop, err := model.NewShop(model.Setup{Places: []string{"bench"}, Shelf: material.Generic()})
	require.NoError(t, err)
	require.NoError(t, shop.Mark(model.Mark{ID: 1, Kind: model.Begun, Mold: "rosette", Place: "bench", At: thursday().Add(-time.Hour)}))
	for _, of := range append(subjects(), "", "face") {
		for _, f := range append(model.Findings(), "", "soft") {
			m := model.Mark{Kind: model.Checked, Mold: "rosette", At: thursday(), Of: of, Found: f}
			require.Equal(t, shop.Accept(m) == nil, checkFinding(m) == nil, "%s %s", of, f)
		}
	}
}
