package main

import (
	"bufio"
	"cmp"
	"context"
	"flag"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var (
	requests = flag.Int("requests", 2000, "how many requests of all kinds are made")
	reqSeed  = flag.Uint64("requests.seed", 0, "seed that they are drawn from; 0 draws one")
)

// throng are many visitors at once, each from an address of its own on loopback, so that no limit for one address is met.
type throng struct {
	d *daemon

	mu      sync.Mutex // guards what follows
	answers map[string]int
	faults  []string
}

// visitor makes requests from one address.
func (g *throng) visitor(number int) *http.Client {
	from := &net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, 1, byte(number+1))}}
	return &http.Client{Transport: &http.Transport{DialContext: from.DialContext, MaxIdleConnsPerHost: 2}, Timeout: patience,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// note counts an answer. A fault of the server is none that a visitor may see, but for scrapes of which there are too many
// at once.
func (g *throng) note(what string, code int, err error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.answers[fmt.Sprint(what, " ", code)]++
	busy := code == http.StatusServiceUnavailable && strings.HasSuffix(what, "/metrics")
	if (err != nil || code >= 500) && !busy && len(g.faults) < 10 {
		g.faults = append(g.faults, fmt.Sprint(what, ": ", code, " ", err))
	}
}

// ask makes a request and reads the answer.
func (g *throng) ask(c *http.Client, method, path, body string, header ...string) {
	r, err := http.NewRequest(method, g.d.url+path, strings.NewReader(body))
	if err != nil {
		g.note(path, 0, err)
		return
	}
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	res, err := c.Do(r)
	if err != nil {
		g.note(method+" "+path, 0, err)
		return
	}
	_, err = io.Copy(io.Discard, res.Body)
	res.Body.Close()
	g.note(method+" "+path, res.StatusCode, err)
}

// breakOff begins something and goes away in the middle of it.
func (g *throng) breakOff(c *http.Client, random *rand.Rand) {
	conn, err := c.Transport.(*http.Transport).DialContext(context.Background(), "tcp", strings.TrimPrefix(g.d.url, "http://"))
	if err != nil {
		g.note("connect", 0, err)
		return
	}
	defer conn.Close()
	_ = conn.(*net.TCPConn).SetLinger(0) // a reset, and no farewell
	text := []string{"", "GET / HTT", "POST /marks HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\nkind=",
		"GET /snapshot.json HTTP/1.1\r\nHost: localhost\r\n\r\n", "GET /news HTTP/1.1\r\nHost: localhost\r\n\r\n", "\x16\x03\x01\x00"}[random.IntN(6)]
	_, _ = io.WriteString(conn, text)
	if random.IntN(2) == 0 {
		_ = conn.SetReadDeadline(time.Now().Add(20 * time.Millisecond))
		_, _ = bufio.NewReader(conn).ReadByte() // it may get as far as an answer
	}
}

// one makes one request of any kind.
func (g *throng) one(c *http.Client, random *rand.Rand) {
	const form = "application/x-www-form-urlencoded"
	switch random.IntN(14) {
	case 0:
		g.ask(c, http.MethodGet, "/", "")
	case 1:
		g.ask(c, http.MethodGet, "/molds/corbel", "", "Accept-Encoding", "gzip")
	case 2:
		g.ask(c, http.MethodGet, "/snapshot.json", "")
	case 3:
		g.ask(c, http.MethodGet, "/metrics", "")
	case 4:
		g.ask(c, http.MethodGet, "/molds/corbel/report.csv", "")
	case 5:
		g.ask(c, http.MethodPost, "/marks", "kind=checked&mold=corbel&of=nothing", "Content-Type", form, "Origin", g.d.url)
	case 6:
		g.ask(c, http.MethodPost, "/marks", "kind=begun&mold=x", "Content-Type", form, "Origin", "http://evil.test")
	case 7, 8:
		g.ask(c, http.MethodPost, pushPath, fmt.Sprintf(`{"probe": "p%d", "temperature": %.2f, "unit": "C"}`, random.IntN(4), 15+10*random.Float64()),
			"Authorization", "Bearer "+sharedToken)
	case 9:
		g.ask(c, http.MethodPost, pushPath, `{"probe": "p9", "temperature": [`, "Authorization", "Bearer "+sharedToken)
	case 10:
		g.ask(c, http.MethodPost, pushPath, `{}`, "Authorization", "Bearer no")
	case 11:
		g.ask(c, http.MethodGet, "/nowhere/at/all", "")
	default:
		g.breakOff(c, random)
	}
}

// burdened are the goroutines, open files and bytes of memory of a daemon, by its own metrics.
func burdened(t *testing.T, d *daemon) (goroutines, files, bytes float64) {
	t.Helper()
	text := string(d.get("/metrics"))
	return value(t, text, "go_goroutines"), value(t, text, "process_open_fds"), value(t, text, "process_resident_memory_bytes")
}

// Requests of all kinds from many visitors at once, good ones, bad ones, and such as break off in the middle: none is a
// fault of the server, and when they are gone nothing of them is left behind.
func TestMixedRequestsLeaveNothingBehind(t *testing.T) {
	t.Parallel()
	seed := cmp.Or(*reqSeed, rand.Uint64())
	t.Logf("%d requests; repeat with -requests.seed=%d", *requests, seed)
	g := &throng{d: serving(t, "serve", "-config", pushedConfig(t)), answers: map[string]int{}}
	g.d.marked("-mold", "corbel", "-place", "bench", "-material", "platinum-slow", "begun")
	const visitors = 24
	throng := func(n int) {
		var busy sync.WaitGroup
		for v := range visitors {
			busy.Go(func() {
				c, random := g.visitor(v), rand.New(rand.NewPCG(seed, uint64(v)))
				for range n / visitors {
					g.one(c, random)
				}
				c.CloseIdleConnections()
			})
		}
		busy.Wait()
	}
	throng(20 * visitors)
	goroutines, files, bytes := 0.0, 0.0, 0.0
	eventually(t, "it has come to rest", func() bool {
		was := goroutines
		goroutines, files, bytes = burdened(t, g.d)
		return goroutines == was
	})
	throng(*requests)
	var nowG, nowF float64
	defer func() { t.Logf("goroutines %v, then %v; files %v, then %v", goroutines, nowG, files, nowF) }()
	eventually(t, "nothing is left behind", func() bool {
		nowG, nowF, _ = burdened(t, g.d)
		return nowG <= goroutines+10 && nowF <= files+10
	})
	_, _, grown := burdened(t, g.d)
	require.Less(t, grown, bytes+64<<20, "bytes in use")
	require.Empty(t, g.faults)
	require.Zero(t, g.d.signal(syscall.SIGTERM))
	for _, what := range slices.Sorted(maps.Keys(g.answers)) {
		t.Log(g.answers[what], what)
	}
	t.Logf("goroutines %v, files %v, memory %.1f and then %.1f MiB", goroutines, files, bytes/(1<<20), grown/(1<<20))
}
