package page

import (
	"flag"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

var update = flag.Bool("update", false, "write the golden pages anew, to be read before they are committed")

// golden compares a page with the one that was read and found right. Hashes in names of assets change
// with every touch of the style sheet and are left out.
func golden(t *testing.T, name, page string) {
	t.Helper()
	page = regexp.MustCompile(`-[0-9a-f]{12}\.`).ReplaceAllString(page, "-HASH.")
	file := "testdata/golden/" + name + ".html"
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(page), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), page)
}

func TestGoldenPages(t *testing.T) {
	h := New(cannedOptions(annex()))
	for name, path := range map[string]string{
		"now": "/", "mold-coats": "/molds/frieze-left", "mold-cannot-say": "/molds/bracket", "mold-wrong": "/molds/volute",
		"mold-demolded": "/molds/finial", "place": "/places/bench", "begin": "/begin", "materials": "/materials", "log": "/log",
	} {
		golden(t, name, get(t, h, path).Body.String())
	}
	golden(t, "place-fahrenheit", get(t, h, "/places/shelf?span=7d", &http.Cookie{Name: unitCookie, Value: "F"}).Body.String())
	h = New(cannedOptions(plagued()))
	for name, path := range map[string]string{
		"now-plagued": "/", "mold-wait": "/molds/rosette", "mold-batch": "/molds/keystone", "mold-unsettled": "/molds/tablet", "place-disagreeing": "/places/bench",
	} {
		golden(t, name, get(t, h, path).Body.String())
	}
	h = New(cannedOptions(annex()))
	golden(t, "refused", post(t, h, "/marks", url.Values{"kind": {"begun"}, "title": {"Cornice"}, "at": {"soon"}}, nil).Body.String())
	golden(t, "empty", get(t, New(cannedOptions(&model.Snapshot{Outlook: &model.Outlook{At: thursday()}, Health: model.Health{ClockTrusted: true}})), "/").Body.String())
}

// crowded is a shop with n molds.
func crowded(n int) *model.Snapshot {
	snap := annex()
	kinds := []func() model.MoldOutlook{coating, curing, unsaid, poisoned}
	snap.Outlook.Molds = nil
	for i := range n {
		m := kinds[i%len(kinds)]()
		m.Name, m.Title = fmt.Sprintf("%s-%d", m.Name, i), fmt.Sprintf("%s %d", m.Title, i)
		for k := range m.Steps { // no two alike, so that pages do not pack better than real ones
			b := &m.Steps[k].Band
			if b.Latest.After(b.Earliest) {
				*b = band(b.Earliest.Add(time.Duration(i)*time.Minute), b.Likely.Add(time.Duration(2*i)*time.Minute), b.Latest.Add(time.Duration(3*i)*time.Minute))
			}
		}
		snap.Outlook.Molds = append(snap.Outlook.Molds, m)
	}
	return snap
}

func benchmarkPage(b *testing.B, path string) {
	h := New(cannedOptions(crowded(200)))
	r := httptest.NewRequest(http.MethodGet, "http://shop.test"+path, nil)
	b.ReportAllocs()
	for b.Loop() {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
}

func BenchmarkNow200Molds(b *testing.B)  { benchmarkPage(b, "/") }
func BenchmarkMold(b *testing.B)         { benchmarkPage(b, "/molds/rosette-1") }
func BenchmarkPlaceWeek(b *testing.B)    { benchmarkPage(b, "/places/bench?span=7d") }
func BenchmarkSnapshotJSON(b *testing.B) { benchmarkPage(b, "/snapshot.json") }
