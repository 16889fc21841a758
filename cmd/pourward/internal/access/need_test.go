package access

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNeeds(t *testing.T) {
	n := newNeeds(Table())
	for request, want := range map[string]Need{
		"GET /": NeedRead, "HEAD /": NeedRead, "GET /molds/frieze": NeedRead, "GET /metrics": NeedRead, "GET /nowhere": NeedRead,
		"GET /begin": NeedMark, "POST /marks": NeedMark, "POST /links": NeedMark, "GET /links": NeedMark,
		"POST /nowhere": NeedMark, "PUT /molds/frieze": NeedMark, "DELETE /": NeedMark, "OPTIONS /login": NeedMark,
		"GET /login": NeedNothing, "GET /look/abc": NeedNothing, "POST /push": NeedNothing,
		"GET /look/abc/def": NeedRead, "GET /look/": NeedRead, "GET /assets/a/b": NeedRead, "POST /look/abc": NeedMark,
	} {
		method, path, _ := strings.Cut(request, " ")
		require.Equal(t, want, n.of(httptest.NewRequest(method, path, nil)), request)
	}
}

// A path that is let through to the door means the same to every mux: none is cleaned, and so none can
// mean one thing to the door and another to the page.
func FuzzPaths(f *testing.F) {
	for _, p := range []string{"/", "//", "/molds/frieze", "/molds/a%2Fb", "/look/x/../../metrics", "//marks", "/molds/x/", "/%2e%2e/marks", "/a\x00", "/look/%2F..%2Fmetrics", "/assets/..;/x", "/molds/%80"} {
		f.Add(p)
	}
	page := http.NewServeMux()
	for pattern := range Table() {
		page.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) { w.Header().Set("Route", r.Pattern) })
	}
	n := newNeeds(Table())
	f.Fuzz(func(t *testing.T, path string) {
		u, err := url.ParseRequestURI(path)
		if err != nil {
			return
		}
		r := httptest.NewRequest(http.MethodGet, "http://localhost/", nil)
		r.URL = u
		if !proper(r) {
			return
		}
		w := httptest.NewRecorder()
		page.ServeHTTP(w, r)
		require.Equal(t, http.StatusOK, w.Code, "no redirection to another path")
		require.Equal(t, Table()[w.Header().Get("Route")], n.of(r))
	})
}
