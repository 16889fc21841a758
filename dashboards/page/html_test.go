package page

import (
	"encoding/xml"
	"errors"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// element is a start tag of a page.
type element struct {
	name   string
	attrs  map[string]string
	in     []string // names of the elements around it
	live   bool     // it is refreshed
	inLive bool     // something around it is
}

// elements reads the start tags of a page. The page must be well formed.
func elements(t *testing.T, page string) []element {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var out []element
	var open []string
	lives := 0 // depth of the outermost live element around; 0 = none
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			require.Empty(t, open)
			return out
		}
		require.NoError(t, err)
		switch tag := token.(type) {
		case xml.StartElement:
			e := element{name: tag.Name.Local, attrs: map[string]string{}, in: append([]string(nil), open...)}
			for _, a := range tag.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			_, e.live = e.attrs["data-live"]
			e.inLive = lives > 0
			out = append(out, e)
			open = append(open, tag.Name.Local)
			if e.live && lives == 0 {
				lives = len(open)
			}
		case xml.EndElement:
			require.Equal(t, open[len(open)-1], tag.Name.Local)
			if lives == len(open) {
				lives = 0
			}
			open = open[:len(open)-1]
		}
	}
}

func get(t *testing.T, h http.Handler, path string, cookies ...*http.Cookie) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "http://shop.test"+path, nil)
	for _, c := range cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// post sends a form as a browser on the same site does, unless header says otherwise.
func post(t *testing.T, h http.Handler, path string, form url.Values, header http.Header) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(http.MethodPost, "http://shop.test"+path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://shop.test")
	for k, v := range header {
		r.Header[k] = v
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// allPages are pages of every kind, the failed form among them.
func allPages(t *testing.T) map[string]string {
	t.Helper()
	h := New(cannedOptions(annex()))
	out := map[string]string{}
	for _, path := range []string{"/", "/begin", "/molds/frieze-left", "/molds/rosette", "/molds/corner", "/molds/bracket", "/molds/volute",
		"/molds/finial", "/places/bench", "/places/shelf?span=7d", "/nowhere", "/molds/none"} {
		out[path] = get(t, h, path).Body.String()
	}
	plague := New(cannedOptions(plagued()))
	for _, path := range []string{"/", "/molds/volute", "/molds/keystone", "/molds/tablet", "/places/bench"} {
		out["plagued "+path] = get(t, plague, path).Body.String()
	}
	out["refused"] = post(t, h, "/marks", url.Values{"kind": {"checked"}, "mold": {"rosette"}, "found": {"firm"}}, nil).Body.String()
	out["refused correction"] = post(t, h, "/marks", url.Values{"kind": {"coat on"}, "mold": {"rosette"}, "corrects": {"5"}, "at": {"soon"}}, nil).Body.String()
	out["refused beginning"] = post(t, h, "/marks", url.Values{"kind": {"begun"}}, nil).Body.String()
	maps.Copy(out, doorPages(t))
	out["starting"] = get(t, New(cannedOptions(nil)), "/").Body.String()
	return out
}

func TestPagesAreAccessible(t *testing.T) {
	for path, page := range allPages(t) {
		t.Run(path, func(t *testing.T) {
			all := elements(t, page)
			ids, labels, h1 := map[string]bool{}, map[string]bool{}, 0
			for _, e := range all {
				if id := e.attrs["id"]; id != "" {
					require.False(t, ids[id], "id %q twice", id)
					ids[id] = true
				}
				if e.name == "label" {
					labels[e.attrs["for"]] = true
				}
				if e.name == "h1" {
					h1++
				}
			}
			require.Equal(t, "en", all[0].attrs["lang"])
			require.Equal(t, 1, h1, "one heading of the first level")
			for _, e := range all {
				checkElement(t, e, ids, labels)
			}
		})
	}
}

func checkElement(t *testing.T, e element, ids, labels map[string]bool) {
	t.Helper()
	switch e.name {
	case "input", "select", "textarea":
		if e.attrs["type"] != "hidden" {
			require.True(t, labels[e.attrs["id"]], "a label for %v", e.attrs)
		}
	case "label":
		require.True(t, ids[e.attrs["for"]], "a field for the label of %q", e.attrs["for"])
	case "fieldset":
		require.Contains(t, e.in, "form")
	case "svg":
		require.True(t, e.attrs["aria-hidden"] == "true" || e.attrs["role"] == "img" && e.attrs["aria-label"] != "", "a drawing says what it shows: %v", e.attrs)
	case "th":
		require.NotEmpty(t, e.attrs["scope"])
	case "form":
		if e.attrs["method"] == "get" { // what only asks, and changes nothing
			require.True(t, strings.HasPrefix(e.attrs["action"], "/molds/"), e.attrs["action"])
			break
		}
		require.Equal(t, "post", e.attrs["method"])
	case "a":
		require.NotEmpty(t, e.attrs["href"])
		require.NotContains(t, e.in, "a")
	}
	for _, name := range []string{"aria-labelledby", "aria-describedby"} {
		if id, ok := e.attrs[name]; ok {
			require.True(t, ids[id], "%s names %q", name, id)
		}
	}
}

// The policy forbids styles and scripts inside the page; none may be there to be ignored.
func TestNothingInline(t *testing.T) {
	for path, page := range allPages(t) {
		for _, e := range elements(t, page) {
			require.NotEqual(t, "style", e.name, path)
			for name := range e.attrs {
				require.NotEqual(t, "style", name, path)
				require.False(t, strings.HasPrefix(name, "on"), "%s: %s", path, name)
			}
			if e.name == "script" {
				require.True(t, strings.HasPrefix(e.attrs["src"], "/assets/"))
			}
			for _, name := range []string{"href", "src", "action"} {
				require.False(t, strings.Contains(e.attrs[name], "//"), "%s: only own addresses, not %s", path, e.attrs[name])
			}
		}
	}
}

// Every part that is refreshed can be found again, and none holds a form whose typing could be lost.
func TestLiveParts(t *testing.T) {
	for path, page := range allPages(t) {
		if !strings.Contains(page, "data-at=") {
			continue // at the door nothing is refreshed
		}
		live := 0
		for _, e := range elements(t, page) {
			if e.live {
				require.NotEmpty(t, e.attrs["id"], path)
				live++
			}
			if e.name == "form" {
				require.False(t, e.inLive, "%s: form %s", path, e.attrs["id"])
			}
		}
		require.GreaterOrEqual(t, live, 2, path)
	}
}
