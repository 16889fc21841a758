package main

import (
	"bufio"
	"crypto/tls"
	"encoding/csv"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func abuses(t *testing.T) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "abuse.csv"))
	require.NoError(t, err)
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, cell := range record {
			row[records[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

// Whatever is asked of the daemon, and by whomever: it answers as it should, stores what it should, and
// neither its answers to those who may not look nor its log nor its metrics tell what they must not.
func TestAbuse(t *testing.T) {
	g := newGated(t)
	g.people()
	for _, row := range abuses(t) {
		t.Run(row["case"], func(t *testing.T) {
			g.t = t
			g.door.ahead(2 * time.Minute) // nobody is refused for what the case before did
			marks, links := g.marks(), g.linksFile()
			a := g.send(asked{row["who"], row["method"], row["target"], row["header"], row["body"]})
			require.Equal(t, row["status"], strconv.Itoa(a.StatusCode), "%.300s", a.body)
			stores, err := strconv.Atoi(row["stores"])
			require.NoError(t, err)
			require.Equal(t, stores, g.marks()-marks, "marks stored")
			require.Equal(t, links, g.linksFile(), "no link is made or revoked")
			g.tellsNoMore(row["who"], a, row["tells"])
		})
	}
	g.t = t
	scrape := g.send(asked{who: "ben basic", method: http.MethodGet, target: "/metrics"})
	for what, secret := range g.secrets() {
		require.False(t, g.log.has(secret), "the log holds: %s", what)
		require.NotContains(t, scrape.body, secret, what)
	}
	require.True(t, g.log.has("log-in refused"), "a wrong password is logged")
}

func (g *gated) linksFile() string {
	g.t.Helper()
	text, err := os.ReadFile(filepath.Join(g.dir, "annex.journal.links"))
	require.NoError(g.t, err)
	return string(text)
}

// tellsNoMore checks an answer: what it must tell, what it must not, and its headers.
func (g *gated) tellsNoMore(who string, a answer, want string) {
	t := g.t
	t.Helper()
	told := want == ""
	for word := range strings.SplitSeq(want, "|") {
		told = told || strings.Contains(a.body, word)
	}
	require.True(t, told, "%q is told in %.300s", want, a.body)
	if in := strings.HasPrefix(who, "anna") || strings.HasPrefix(who, "ben"); a.StatusCode >= 300 && !in {
		for _, inside := range []string{"Laurel", "Rosette block", "Annex", "p0"} {
			require.NotContains(t, a.body, inside, "a refusal tells nothing of the shop")
		}
		require.Empty(t, a.Cookies(), "nobody is let in")
	}
	require.Empty(t, a.Header.Get("X-Evil"))
	require.False(t, strings.HasPrefix(a.Header.Get("Location"), "//") || strings.Contains(a.Header.Get("Location"), "evil"), a.Header.Get("Location"))
	switch a.StatusCode {
	case http.StatusBadRequest, http.StatusNotImplemented, http.StatusRequestHeaderFieldsTooLarge:
		return // answered before any handler, with nothing but the status
	}
	require.Contains(t, a.Header.Get("Content-Security-Policy"), "default-src 'none'")
	require.NotContains(t, a.Header.Get("Content-Security-Policy"), "unsafe")
	require.Equal(t, "nosniff", a.Header.Get("X-Content-Type-Options"))
	require.Equal(t, "no-store", a.Header.Get("Cache-Control"))
	require.Contains(t, []string{"same-origin", "no-referrer"}, a.Header.Get("Referrer-Policy"))
}

// Script in a title or a note is text wherever it is shown, to users and by a link.
func TestScriptsInNamesAreText(t *testing.T) {
	g := newGated(t)
	const evil = `<script>alert(1)</script><img src=x onerror=alert(2)>"'`
	for _, body := range []string{
		"kind=begun&mold=evil&place=bench&title=" + "%3Cscript%3Ealert(1)%3C/script%3E%3Cimg+src=x+onerror=alert(2)%3E%22'",
		"kind=coat+on&mold=evil&material=shellac&note=" + "%3Cscript%3Ealert(1)%3C/script%3E%3Cimg+src=x+onerror=alert(2)%3E%22'",
	} {
		a := g.send(asked{who: "anna basic", method: http.MethodPost, target: "/marks", header: "Accept: application/json", body: body})
		require.Equal(t, http.StatusOK, a.StatusCode, a.body)
	}
	link, _, _ := g.link("evil", "3600")
	for _, target := range []string{"/", "/molds/evil", link, "/metrics"} {
		a := g.send(asked{who: "anna basic", method: http.MethodGet, target: target})
		require.Equal(t, http.StatusOK, a.StatusCode, target)
		if target != "/metrics" {
			require.NotContains(t, a.body, evil, target)
			require.NotContains(t, a.body, "<script>alert", target)
			require.NotContains(t, a.body, "<img", target)
			require.Contains(t, a.body, "&lt;script&gt;", "it is shown as it was typed")
		}
	}
}

// Guessing is slowed down, for a user and for a name that is none alike; who is in stays in.
func TestGuessing(t *testing.T) {
	g := newGated(t)
	g.logIn("anna", "anna", annaPassword)
	var first []string
	for _, user := range []string{"ben", "carla"} {
		g.door.ahead(time.Hour)
		var statuses []int
		for range 12 {
			a := g.send(asked{method: http.MethodPost, target: "/login", body: "password=guess&user=" + user})
			statuses = append(statuses, a.StatusCode)
			if len(statuses) == 1 {
				first = append(first, strings.ReplaceAll(a.body, user, "NAME"))
			}
		}
		require.Equal(t, []int{403, 403, 403, 403, 403, 403, 429, 429, 429, 429, 429, 429}, statuses, user)
		right := g.send(asked{method: http.MethodPost, target: "/login", body: "user=ben&password=only+looking+3"})
		require.Equal(t, http.StatusTooManyRequests, right.StatusCode, "the right one is not told apart")
		require.Equal(t, http.StatusOK, g.send(asked{who: "anna", method: http.MethodGet, target: "/"}).StatusCode)
	}
	require.Equal(t, first[0], first[1], "the answer does not tell whether there is such a user")
	g.door.ahead(time.Minute)
	g.logIn("ben", "ben", benPassword)
	a := g.send(asked{who: "wrong basic", method: http.MethodGet, target: "/metrics"})
	require.Equal(t, http.StatusUnauthorized, a.StatusCode)
	require.Contains(t, a.Header.Get("WWW-Authenticate"), "Basic") // RFC 9110, section 11.6.1
}

// Entries are limited for one user, so that no script fills the record.
func TestEntriesAreLimited(t *testing.T) {
	g := newGated(t)
	refused := 0
	for range 70 {
		a := g.send(asked{who: "anna basic", method: http.MethodPost, target: "/unit", body: "unit=C&back=/"})
		if a.StatusCode == http.StatusTooManyRequests {
			refused++
			require.NotEmpty(t, a.Header.Get("Retry-After"))
		}
	}
	require.Equal(t, 10, refused, "60 at once, then one a second")
	require.Equal(t, http.StatusSeeOther, g.send(asked{who: "ben basic", method: http.MethodPost, target: "/unit", body: "unit=C&back=/"}).StatusCode)
}

func TestOldTLSAndPlainHTTP(t *testing.T) {
	g := newGated(t)
	for version, ok := range map[uint16]bool{tls.VersionTLS10: false, tls.VersionTLS11: false, tls.VersionTLS12: true, tls.VersionTLS13: true} { // RFC 8996
		conn, err := tls.Dial("tcp", g.address, &tls.Config{RootCAs: g.trust, MinVersion: tls.VersionTLS10, MaxVersion: version})
		require.Equal(t, ok, err == nil, "%s: %v", tls.VersionName(version), err)
		if ok {
			require.NoError(t, conn.Close())
		}
	}
	_, err := tls.Dial("tcp", g.address, &tls.Config{})
	require.ErrorContains(t, err, "certificate", "a certificate of nobody known")

	conn, err := net.Dial("tcp", g.address)
	require.NoError(t, err)
	defer conn.Close()
	_, err = io.WriteString(conn, "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
	require.NoError(t, err)
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	require.NoError(t, err)
	defer res.Body.Close()
	require.Equal(t, http.StatusBadRequest, res.StatusCode, "plain HTTP to the port of TLS")
}
