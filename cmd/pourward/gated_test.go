package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/access"
	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
)

// certificate writes a certificate for this machine and its key into a folder, as cert.pem and key.pem.
func certificate(t *testing.T, dir string) *x509.CertPool {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	about := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, about, about, &key.PublicKey, key)
	require.NoError(t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	cert := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cert.pem"), cert, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "key.pem"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600))
	pool := x509.NewCertPool()
	require.True(t, pool.AppendCertsFromPEM(cert))
	return pool
}

// Passwords, and their bcrypt hashes.
const (
	annaPassword = "linen and plaster 7"
	annaHash     = "$2a$10$l93PA3YcVwxGN39kZ3VHpupybkNcms..EFSeJH8NZN7pHARRfSNTO"
	benPassword  = "only looking 3"
	benHash      = "$2a$10$gjagciJDJH1PcnkdHzi.COXo167teZom2JOU4GlvpZdYZZcau94gm"
)

// layWeb writes a web configuration with two users and TLS.
func layWeb(t *testing.T, dir string) *x509.CertPool {
	t.Helper()
	pool := certificate(t, dir)
	layTree(t, dir, map[string]string{"web.yml": fmt.Sprintf("tls_server_config: {cert_file: cert.pem, key_file: key.pem}\nbasic_auth_users: {anna: %q, ben: %q}",
		annaHash, benHash)})
	return pool
}

// shifted is the board's clock, set ahead by a test.
type shifted struct {
	sensors.RealClock
	by atomic.Int64 // nanoseconds
}

func (s *shifted) Now() time.Time { return time.Now().Add(time.Duration(s.by.Load())) }

func (s *shifted) Wait(ctx context.Context, t time.Time) error {
	return s.RealClock.Wait(ctx, t.Add(-time.Duration(s.by.Load())))
}

func (s *shifted) ahead(d time.Duration) { s.by.Add(int64(d)) }

// stopped is a clock that moves only when a test sets it ahead: what is limited does not depend on how
// fast the machine is.
type stopped struct{ by atomic.Int64 } // nanoseconds

func (s *stopped) Now() time.Time { return time.Unix(1_768_000_000, s.by.Load()) }

func (s *stopped) ahead(d time.Duration) { s.by.Add(int64(d)) }

// gated is a shop behind a door, served over TLS in this process.
type gated struct {
	t       *testing.T
	dir     string
	shop    *shop
	address string
	trust   *x509.CertPool
	log     *notes
	door    *stopped // the time that passes for sessions and limits
	clock   *shifted // the shop's
	words   map[string]string
	cookies map[string]string // by who
}

// newGated opens a shop with two molds in work. It ends with the test.
func newGated(t *testing.T) *gated {
	t.Helper()
	dir := t.TempDir()
	g := &gated{t: t, dir: dir, trust: layWeb(t, dir), log: &notes{}, door: &stopped{}, clock: &shifted{}, words: map[string]string{}, cookies: map[string]string{}}
	layTree(t, dir, map[string]string{"push.token": sharedToken})
	text := shopText("push: {token_file: push.token}\naccess: {web_config: web.yml, roles: {anna: mark}}\n", "push: {}")
	c, err := config.Parse(filepath.Join(dir, "annex.yml"), text)
	require.NoError(t, err)
	o, err := fromConfig(c, slog.New(slog.NewTextHandler(g.log, &slog.HandlerOptions{Level: slog.LevelDebug})))
	require.NoError(t, err)
	require.NotNil(t, o.door.TLS())
	web, err := access.LoadWeb(c.Access.WebFile)
	require.NoError(t, err)
	o.door, err = access.New(access.Options{Web: web, Roles: c.Access.Roles, Now: g.door.Now, Log: o.log})
	require.NoError(t, err)
	o.board, o.clock = nil, g.clock
	g.open(o)
	return g
}

func (g *gated) open(o shopOptions) {
	ctx, stop := context.WithCancel(g.t.Context())
	var err error
	g.shop, err = openShop(ctx, o)
	require.NoError(g.t, err)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(g.t, err)
	g.address = listener.Addr().String()
	done := make(chan error, 1)
	go func() { done <- g.shop.run(ctx, listener) }()
	g.t.Cleanup(func() {
		stop()
		require.NoError(g.t, <-done)
		require.NoError(g.t, g.shop.close(ctx))
	})
}

// asked is one request, as it goes over the wire.
type asked struct{ who, method, target, header, body string }

// answer is what came back.
type answer struct {
	*http.Response
	body string
}

// send sends a request byte for byte as it is told, over TLS.
func (g *gated) send(a asked) answer {
	g.t.Helper()
	conn, err := tls.Dial("tcp", g.address, &tls.Config{RootCAs: g.trust, NextProtos: []string{"http/1.1"}})
	require.NoError(g.t, err)
	defer conn.Close()
	require.NoError(g.t, conn.SetDeadline(time.Now().Add(patience)))
	go func() { _, _ = conn.Write(g.text(a)) }() // an answer may come before all is read
	res, err := http.ReadResponse(bufio.NewReader(conn), &http.Request{Method: a.method})
	require.NoError(g.t, err)
	body, err := io.ReadAll(res.Body)
	if err != nil { // cut off after the answer, as the request was
		require.GreaterOrEqual(g.t, res.StatusCode, 400)
	}
	return answer{res, string(body)}
}

func (g *gated) text(a asked) []byte {
	header := http.Header{}
	host := g.address
	for line := range strings.SplitSeq(g.fill(a.header), "|") {
		name, value, ok := strings.Cut(line, ": ")
		switch {
		case ok && name == "Host":
			host = value
		case ok:
			header.Add(name, value)
		}
	}
	if basic := map[string][2]string{
		"anna basic": {"anna", annaPassword}, "ben basic": {"ben", benPassword}, "wrong basic": {"ben", annaPassword}, "unknown basic": {"carla", annaPassword},
	}[a.who]; basic[0] != "" {
		r := &http.Request{Header: header}
		r.SetBasicAuth(basic[0], basic[1])
	} else if c := g.cookies[a.who]; c != "" {
		header.Add("Cookie", c)
	}
	body := g.fill(a.body)
	if a.method == http.MethodPost && header.Get("Content-Type") == "" {
		header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "%s %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n", a.method, g.fill(a.target), host)
	if body != "" || a.method == http.MethodPost {
		fmt.Fprintf(&out, "Content-Length: %d\r\n", len(body))
	}
	_ = header.Write(&out) // a buffer takes everything
	out.WriteString("\r\n" + body)
	return out.Bytes()
}

// fill puts in what stands for words in braces.
func (g *gated) fill(text string) string {
	pairs := []string{"{8k}", strings.Repeat("x", 8<<10), "{70k}", strings.Repeat("x", 70<<10), "{self}", "https://" + g.address}
	for word, meaning := range g.words {
		pairs = append(pairs, "{"+word+"}", meaning)
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// logIn gets a session and keeps its cookie for someone.
func (g *gated) logIn(who, user, password string) {
	g.t.Helper()
	form := url.Values{"user": {user}, "password": {password}, "back": {"/"}}
	a := g.send(asked{method: http.MethodPost, target: "/login", body: form.Encode()})
	require.Equal(g.t, http.StatusSeeOther, a.StatusCode, a.body)
	require.Len(g.t, a.Cookies(), 1)
	g.cookies[who] = a.Cookies()[0].Name + "=" + a.Cookies()[0].Value
}

// link makes a link and returns its path, its number and its token.
func (g *gated) link(mold, seconds string) (path, id, token string) {
	g.t.Helper()
	a := g.send(asked{who: "anna basic", method: http.MethodPost, target: "/links", header: "Accept: application/json",
		body: url.Values{"mold": {mold}, "seconds": {seconds}}.Encode()})
	require.Equal(g.t, http.StatusCreated, a.StatusCode, a.body)
	var made toldLink
	require.NoError(g.t, json.Unmarshal([]byte(a.body), &made))
	return made.Path, made.ID, strings.TrimPrefix(made.Path, "/look/")
}

// marks counts those on record.
func (g *gated) marks() int {
	g.t.Helper()
	kept, err := g.shop.journal.Marks(g.t.Context())
	require.NoError(g.t, err)
	return len(kept)
}

// people fills the shop: two molds, sessions of every kind, links of every kind.
func (g *gated) people() {
	g.t.Helper()
	for name, title := range map[string]string{"frieze": "Laurel frieze", "rosette": "Rosette block"} {
		form := url.Values{"kind": {"begun"}, "mold": {name}, "title": {title}, "place": {"bench"}}
		a := g.send(asked{who: "anna basic", method: http.MethodPost, target: "/marks", header: "Accept: application/json", body: form.Encode()})
		require.Equal(g.t, http.StatusOK, a.StatusCode, a.body)
	}
	g.logIn("expired", "anna", annaPassword)
	g.door.ahead(8 * 24 * time.Hour)
	g.logIn("anna", "anna", annaPassword)
	g.logIn("ben", "ben", benPassword)
	g.logIn("ended", "anna", annaPassword)
	out := g.send(asked{who: "ended", method: http.MethodPost, target: "/logout", header: "Origin: {self}"})
	require.Equal(g.t, http.StatusSeeOther, out.StatusCode)
	other := newGated(g.t)
	other.logIn("anna", "anna", annaPassword)
	g.cookies["other"] = other.cookies["anna"]
	g.cookies["forged"] = "__Host-pourward=" + strings.Repeat("A", 32)
	g.cookies["empty"] = "__Host-pourward="
	g.cookies["plain"] = strings.TrimPrefix(g.cookies["anna"], "__Host-")

	g.words["expired"], _, _ = g.link("frieze", "60")
	g.clock.ahead(2 * time.Minute)
	var id string
	g.words["revoked"], id, _ = g.link("frieze", "3600")
	gone := g.send(asked{who: "anna", method: http.MethodPost, target: "/links/revoke", header: "Origin: {self}", body: "id=" + id})
	require.Equal(g.t, http.StatusSeeOther, gone.StatusCode)
	g.words["link"], g.words["id"], g.words["token"] = g.link("frieze", "864000")
	otherPath, _, otherToken := g.link("rosette", "864000")
	g.words["other mold"], g.words["cut"] = otherToken, otherPath[:len(otherPath)-1]
	hash := sha256.Sum256([]byte(g.words["token"]))
	g.words["hash"] = hex.EncodeToString(hash[:])
	g.words["push"], g.words["password"] = sharedToken, "typed-into-the-address"
}

// secrets are all that must never be written down or told.
func (g *gated) secrets() map[string]string {
	out := map[string]string{"anna's password": annaPassword, "ben's password": benPassword, "push token": sharedToken, "password in a query": g.words["password"]}
	for who, c := range g.cookies {
		if _, value, _ := strings.Cut(c, "="); value != "" {
			out["session of "+who] = value
		}
	}
	for _, word := range []string{"link", "expired", "revoked", "cut"} {
		out["link: "+word] = strings.TrimPrefix(g.words[word], "/look/")
	}
	out["other link"] = g.words["other mold"]
	text, err := os.ReadFile(filepath.Join(g.dir, "web.yml"))
	require.NoError(g.t, err)
	for i, part := range strings.Split(string(text), `"`) {
		if strings.HasPrefix(part, "$2") {
			out[fmt.Sprint("hash ", i)] = part
		}
	}
	return out
}
