package page

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestHosts(t *testing.T) {
	h, k := withKeeper()
	for _, row := range rowsOf(t, "hosts.csv") {
		r := httptest.NewRequest(http.MethodGet, "http://shop.test/", nil)
		r.Host = row["host"]
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if row["answered"] == "yes" {
			require.Equal(t, http.StatusOK, w.Code, "%s: %s", row["host"], row["source"])
			continue
		}
		require.Equal(t, http.StatusMisdirectedRequest, w.Code, "%s: %s", row["host"], row["source"]) // RFC 9110 section 15.5.20
		require.Contains(t, w.Body.String(), "does not answer to the name")
		require.NotContains(t, w.Body.String(), "Museum", "nothing of the shop is told")
		require.NotEmpty(t, w.Header().Get("Content-Security-Policy"))
	}
	require.Empty(t, k.marks)
}

// After DNS rebinding the browser takes the page and the shop for one origin: only the host is wrong.
func TestReboundNameMarksNothing(t *testing.T) {
	h, k := withKeeper()
	form := url.Values{"kind": {"poured"}, "mold": {"corner"}}
	r := httptest.NewRequest(http.MethodPost, "http://evil.test:8673/marks", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", "http://evil.test:8673")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("Accept", "application/json")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.Equal(t, http.StatusMisdirectedRequest, w.Code)
	require.JSONEq(t, `{"error":"This shop does not answer to the name \"evil.test\". Open it by its IP address, or let the daemon know this name as one of its hosts."}`, w.Body.String())
	require.Empty(t, k.marks)
}

func TestWithoutHostsOnlyTheMachineItselfAndAddresses(t *testing.T) {
	o := cannedOptions(annex())
	o.Hosts = nil
	h := New(o)
	require.Equal(t, http.StatusMisdirectedRequest, get(t, h, "/").Code)
	for _, host := range []string{"localhost:8673", "127.0.0.1", "[::1]:8673", "10.0.0.7:8673"} {
		r := httptest.NewRequest(http.MethodGet, "http://"+host+"/", nil)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Equal(t, http.StatusOK, w.Code, host)
	}
}
