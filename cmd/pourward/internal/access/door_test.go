package access

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// doorstep is a guarded handler that says whom it let in.
func doorstep(d *Door) func(method, path string, header http.Header) *httptest.ResponseRecorder {
	h := d.Guard(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := d.Visitor(r)
		w.Header().Set("In", v.Name)
		if v.Marks {
			w.Header().Set("Marks", "yes")
		}
	}), func(w http.ResponseWriter, _ *http.Request, status int, text string) { http.Error(w, text, status) })
	return func(method, path string, header http.Header) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, nil)
		for name, values := range header {
			r.Header[name] = values
		}
		w := httptest.NewRecorder()
		w.Header().Set("Content-Security-Policy", "strict")
		h.ServeHTTP(w, r)
		return w
	}
}

func TestWhereNobodyIsAskedEverybodyMayMark(t *testing.T) {
	d, err := New(Options{})
	require.NoError(t, err)
	ask := doorstep(d)
	w := ask(http.MethodPost, "/marks", nil)
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "yes", w.Header().Get("Marks"))
	require.Nil(t, d.TLS())
	require.NoError(t, d.LogIn(httptest.NewRecorder(), httptest.NewRequest(http.MethodPost, "/login", nil), "anyone", "anything"))
}

func TestAsksAreLimited(t *testing.T) {
	clock := newWatch()
	d, err := New(Options{Now: clock.now})
	require.NoError(t, err)
	ask := doorstep(d)
	for range asksAtOnce {
		require.Equal(t, http.StatusOK, ask(http.MethodGet, "/", nil).Code)
	}
	for _, path := range []string{"/", "/login", "/look/abc", "/push"} {
		w := ask(http.MethodGet, path, nil)
		require.Equal(t, http.StatusTooManyRequests, w.Code, path)
		require.NotEmpty(t, w.Header().Get("Retry-After"))
	}
	clock.on(time.Second)
	require.Equal(t, http.StatusOK, ask(http.MethodGet, "/", nil).Code)
}

// What the web configuration asks for besides users is done, as far as it loosens nothing.
func TestHeadersAndRateOfTheWebFile(t *testing.T) {
	w, err := webOf(t, `
http_server_config: {headers: {Strict-Transport-Security: max-age=1, Content-Security-Policy: "default-src *"}}
rate_limit: {interval: 1h, burst: 2}
basic_auth_users: {anna: "`+hashOf("anna")+`"}`)
	require.NoError(t, err)
	d, err := New(Options{Web: w})
	require.NoError(t, err)
	ask := doorstep(d)
	first := ask(http.MethodGet, "/login", nil)
	require.Equal(t, "max-age=1", first.Header().Get("Strict-Transport-Security"))
	require.Equal(t, "strict", first.Header().Get("Content-Security-Policy"))
	require.Equal(t, http.StatusOK, ask(http.MethodGet, "/login", nil).Code)
	require.Equal(t, http.StatusTooManyRequests, ask(http.MethodGet, "/login", nil).Code)
}

// A user without a role may look only.
func TestRoleIsReadUnlessTold(t *testing.T) {
	d := doorOf(t, newWatch())
	ask := doorstep(d)
	basic := func(user string) http.Header {
		r := &http.Request{Header: http.Header{}}
		r.SetBasicAuth(user, user+"'s password")
		return r.Header
	}
	w := ask(http.MethodGet, "/", basic("ben"))
	require.Equal(t, []string{"ben", ""}, []string{w.Header().Get("In"), w.Header().Get("Marks")})
	require.Equal(t, http.StatusForbidden, ask(http.MethodPost, "/marks", basic("ben")).Code)
	w = ask(http.MethodPost, "/marks", basic("anna"))
	require.Equal(t, []string{"anna", "yes"}, []string{w.Header().Get("In"), w.Header().Get("Marks")})
	browser := ask(http.MethodGet, "/molds/a?b=c", http.Header{"Accept": {"text/html,*/*"}})
	require.Equal(t, http.StatusSeeOther, browser.Code)
	require.Equal(t, "/login?back=%2Fmolds%2Fa%3Fb%3Dc", browser.Header().Get("Location"))
}
