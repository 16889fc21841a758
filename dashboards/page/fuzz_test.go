package page

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// answered is a request to a handler that must be answered, whatever it holds: no fault of the server, what is shown is
// whole text, and a script that came in does not go out as one.
func answered(t *testing.T, h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.Less(t, w.Code, 500, "%s %s: %.300s", r.Method, r.URL, w.Body)
	require.Contains(t, w.Header().Get("Content-Security-Policy"), "default-src 'none'")
	if w.Code/100 != 3 && strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
		require.True(t, utf8.Valid(w.Body.Bytes()))
		require.NotContains(t, w.Body.String(), "<script>alert")
	}
	if to := w.Header().Get("Location"); to != "" {
		require.Regexp(t, `^/([^/\\]|$)`, to, "it leads to no other server")
	}
	return w
}

// A form with anything in it, sent to every place that takes one: it is answered, and what is recorded of it is a mark
// that can be written down.
func FuzzForms(f *testing.F) {
	for _, body := range []string{
		"kind=begun&mold=corbel&place=bench&material=platinum-slow&title=Corbel&surface=pattern",
		"kind=coat+on&mold=frieze-left&material=shellac&at=19:20&note=thin",
		"kind=checked&mold=rosette&of=cup&found=tacky&at=20+min+ago",
		"kind=mixed&mold=frieze-left&material=platinum-slow&weighed=100+g+%2B+100+g&lot=7",
		"kind=poured&mold=frieze-left&rubber_mm=8&pattern_mm=40&corrects=2",
		"kind=patch+on&mold=p9&place=bench&face=oil+clay&prep=lacquer&material=platinum-slow",
		"kind=%3Cscript%3Ealert(1)%3C/script%3E&mold=%00%ff&at=-1+min+ago", "a=%zz", "kind=begun;mold=x", strings.Repeat("note=x&", 2000),
		"back=//evil.test/&unit=F", "back=https:evil&unit=K", "user=anna&password=x&back=/molds/frieze-left",
		"mold=frieze-left&days=7", "id=abc", "everywhere=yes", "\x00\xff\xfe", "mold=\xe30",
	} {
		for path := range uint8(6) {
			f.Add(path, body, path%2 == 0)
		}
	}
	paths := []string{"/marks", "/unit", LoginPath, "/logout", "/links", "/links/revoke"}
	h, k := withKeeper()
	f.Fuzz(func(t *testing.T, path uint8, body string, json bool) {
		k.marks = nil
		r := httptest.NewRequest(http.MethodPost, "http://shop.test"+paths[int(path)%len(paths)], strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "http://shop.test")
		if json {
			r.Header.Set("Accept", "application/json")
		}
		answered(t, h, r)
		require.LessOrEqual(t, len(k.marks), 1)
		for _, m := range k.marks {
			require.Contains(t, model.MarkKinds(), m.Kind)
			require.True(t, utf8.ValidString(m.Mold+m.Title+m.Note+m.Material+m.Place))
			require.NotContains(t, m.Mold+m.Title+m.Note, "\x00")
			require.Equal(t, m, m.Rounded(), "as the record keeps it")
		}
	})
}

// Every page with any name in its address and any question after it.
func FuzzQueries(f *testing.F) {
	for page := range uint8(14) {
		for _, x := range [][2]string{
			{"frieze-left", "by=Fri+17:00&steps=2+lacquer%2C+platinum-slow&heat=22&hours=8-18"}, {"rosette", "marked=101&unit=F"}, {"bench", "window=24h&before=3"},
			{"..%2F..%2Fetc", "marked=%3Cscript%3Ealert(1)%3C/script%3E"}, {"%00", "a=%zz&;"}, {"ü 😀", "by=now&steps=" + strings.Repeat("lacquer,", 50)}, {"", "back=//evil.test"}, {"", "\xff"},
		} {
			f.Add(page, x[0], x[1])
		}
	}
	pages := []string{"/", beginPath, "/molds/", "/molds/*/label", "/molds/*/report", "/molds/*/report.csv", "/places/", planPath, patchesPath, patchesPath + "/",
		materialsPath, diaryPath, "/snapshot.json", "/assets/", LoginPath, lookPath, "/links", "/"}
	h, k := withKeeper()
	f.Fuzz(func(t *testing.T, page uint8, name, query string) {
		path := pages[int(page)%len(pages)]
		switch {
		case strings.Contains(path, "*"):
			path = strings.Replace(path, "*", name, 1)
		case strings.HasSuffix(path, "/"):
			path += name
		}
		if !utf8.ValidString(path) {
			return // which the daemon's door answers
		}
		r := httptest.NewRequest(http.MethodGet, "http://shop.test/", nil)
		r.URL.Path, r.URL.RawQuery = path, query
		answered(t, h, r)
		require.Empty(t, k.marks, "to look changes nothing")
	})
}
