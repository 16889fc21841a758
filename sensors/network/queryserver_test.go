package network

import (
	"crypto/tls"
	"encoding/pem"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// exporter is a target with two gauges. Each scrape finds the temperature a little higher.
type exporter struct {
	server  *httptest.Server
	scrapes atomic.Int64
	broken  atomic.Bool
}

const exporterStep = 0.001 // °C a scrape

func newExporter(t testing.TB) *exporter {
	e := &exporter{}
	e.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		if e.broken.Load() {
			http.Error(w, "the probe is gone", http.StatusInternalServerError)
			return
		}
		fmt.Fprintf(w, "air_temp{place=\"annex\"} %.3f\nair_temp{place=\"door\"} NaN\nair_rh{place=\"annex\"} 44\n", 20+exporterStep*float64(e.scrapes.Add(1)))
	}))
	t.Cleanup(e.server.Close)
	return e
}

// prometheus is a real server that scrapes an exporter every second.
type prometheus struct {
	t       testing.TB
	folder  string
	port    string
	process *process
}

func startPrometheus(t testing.TB, e *exporter) *prometheus {
	p := &prometheus{t: t, folder: t.TempDir(), port: freePort(t)}
	config := fmt.Sprintf("global: {scrape_interval: 1s, scrape_timeout: 900ms}\nscrape_configs:\n- job_name: annex\n  static_configs: [{targets: [%q]}]\n", e.server.Listener.Addr())
	require.NoError(t, os.WriteFile(filepath.Join(p.folder, "prometheus.yml"), []byte(config), 0o600))
	p.start()
	return p
}

func (p *prometheus) start() {
	p.process = start(p.t, "127.0.0.1:"+p.port, program(p.t, "prometheus", "prometheus"),
		"--config.file="+filepath.Join(p.folder, "prometheus.yml"), "--storage.tsdb.path="+filepath.Join(p.folder, "data"),
		"--web.listen-address=127.0.0.1:"+p.port, "--log.level=warn")
	soon(p.t, "the server has read its data", func() bool {
		answer, err := http.Get("http://127.0.0.1:" + p.port + "/-/ready")
		if err != nil {
			return false
		}
		return answer.Body.Close() == nil && answer.StatusCode == http.StatusOK
	})
}

// wire passes connections on to an address until it is cut.
type wire struct {
	listener net.Listener
	mu       sync.Mutex
	cut      bool
	open     []net.Conn
}

func newWire(t testing.TB, to string) *wire {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	w := &wire{listener: l}
	t.Cleanup(func() {
		l.Close()
		w.set(true)
	})
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go w.pass(c, to)
		}
	}()
	return w
}

func (w *wire) pass(c net.Conn, to string) {
	defer c.Close()
	far, err := net.Dial("tcp", to)
	if err != nil {
		return
	}
	defer far.Close()
	w.mu.Lock()
	cut := w.cut
	w.open = append(w.open, c, far)
	w.mu.Unlock()
	if cut {
		return
	}
	go func() {
		_, _ = io.Copy(far, c)
		far.Close()
	}()
	_, _ = io.Copy(c, far)
}

func (w *wire) set(cut bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.cut = cut
	for _, c := range w.open {
		c.Close()
	}
	w.open = nil
}

func (w *wire) url() string { return "http://" + w.listener.Addr().String() }

// inOrder checks that readings run forward in time and, the exporter's temperature rising at each scrape,
// that none is missing and none is told twice.
func inOrder(t testing.TB, readings []sensors.Reading) {
	t.Helper()
	var last sensors.Reading
	for _, r := range readings {
		if r.Err != nil {
			continue
		}
		if !last.At.IsZero() {
			require.True(t, r.At.After(last.At))
			require.Less(t, r.Temp.Value-last.Temp.Value, 1.5*exporterStep, "a sample is missing between %s and %s", last.At, r.At)
			require.Greater(t, r.Temp.Value-last.Temp.Value, 0.5*exporterStep, "a sample comes twice")
		}
		last = r
	}
}

// A real server: samples come with their own times; the way to it is cut and the gap filled without a
// sample missing; its target fails and that is no data; it is killed, and goes on when it is back.
func TestRealPrometheus(t *testing.T) {
	t.Parallel()
	e := newExporter(t)
	server := startPrometheus(t, e)
	w := newWire(t, "127.0.0.1:"+server.port)
	q := newQuery(t, QueryOptions{URL: w.url(), Every: time.Second, Step: 500 * time.Millisecond, Timeout: 5 * time.Second, Probes: []QueryProbe{
		{Name: "annex", Temp: `air_temp{place="annex"} # as scraped`, TempUnit: Celsius, Humidity: `air_rh`, HumidityUnit: Percent},
		{Name: "warm", Temp: `air_temp{place="annex"} * 1.8 + 32`, TempUnit: Fahrenheit},
		{Name: "door", Temp: `air_temp{place="door"}`, TempUnit: Celsius},
		{Name: "both", Temp: `air_temp`, TempUnit: Celsius},
		{Name: "wrong", Temp: `air_temp{`, TempUnit: Celsius},
	}})
	k := collect(t, q)
	soon(t, "readings come", func() bool { return len(k.good("annex")) >= 3 && len(k.good("warm")) >= 3 })
	for _, r := range k.readings() {
		if r.Probe == "annex" && r.Err == nil {
			require.WithinDuration(t, time.Now(), r.At, 20*time.Second)
			require.Equal(t, sensors.GoodMeasure(0.44), r.Humidity)
		}
	}
	require.Empty(t, k.good("door"), "NaN is no value")
	require.Equal(t, NotNumber, refusalOf(k.failures("door")[len(k.failures("door"))-1]))
	require.ErrorContains(t, k.failures("both")[len(k.failures("both"))-1], "several series")
	require.ErrorContains(t, k.failures("wrong")[len(k.failures("wrong"))-1], "correct the expression")

	before, failed := len(k.good("annex")), len(k.failures("annex"))
	w.set(true)
	soon(t, "the probe is told as failed", func() bool { return len(k.failures("annex")) > failed })
	scraped := e.scrapes.Load()
	soon(t, "the server goes on scraping", func() bool { return e.scrapes.Load() >= scraped+8 })
	require.LessOrEqual(t, len(k.good("annex")), before+2)
	w.set(false)
	soon(t, "the gap is filled", func() bool { return len(k.good("annex")) >= before+10 })
	inOrder(t, annex(k))

	e.broken.Store(true)
	soon(t, "a failing target is no data", func() bool {
		all := annex(k)
		return all[len(all)-1].Err != nil
	})
	n := len(k.good("annex"))
	failed = len(k.failures("annex"))
	soon(t, "for as long as it fails", func() bool { return len(k.failures("annex")) >= failed+3 })
	require.Len(t, k.good("annex"), n, "the last value is not told again")
	e.broken.Store(false)
	soon(t, "readings come again", func() bool { return len(k.good("annex")) > n })

	inOrder(t, annex(k))
	server.process.kill()
	failed = len(k.failures("annex"))
	soon(t, "a server that is gone is no data", func() bool { return len(k.failures("annex")) > failed })
	server.start()
	n = len(annex(k))
	soon(t, "readings come again", func() bool {
		good := 0
		for _, r := range annex(k)[n:] {
			if r.Err == nil {
				good++
			}
		}
		return good > 2
	})
	inOrder(t, annex(k)[n:])
	k.end()
}

// annex returns all that was told of that probe.
func annex(k *sink) []sensors.Reading {
	var out []sensors.Reading
	for _, r := range k.readings() {
		if r.Probe == "annex" {
			out = append(out, r)
		}
	}
	return out
}

// A shop that starts anew asks for what it missed.
func TestRealPrometheusFromTheRecord(t *testing.T) {
	t.Parallel()
	e := newExporter(t)
	server := startPrometheus(t, e)
	begin := time.Now()
	soon(t, "the server has scraped", func() bool { return e.scrapes.Load() >= 6 })
	q := newQuery(t, QueryOptions{URL: "http://127.0.0.1:" + server.port, Every: time.Second, Step: 500 * time.Millisecond, Probes: []QueryProbe{
		{Name: "annex", Temp: `air_temp{place="annex"}`, TempUnit: Celsius, After: begin.Add(-time.Minute)}}})
	k := collect(t, q)
	soon(t, "all comes", func() bool { return len(k.good("annex")) >= 6 })
	require.InDelta(t, 20+exporterStep, k.good("annex")[0], 1e-9, "from the first scrape on")
	inOrder(t, annex(k))
	k.end()
}

// Servers that misbehave: the probe is told as failed within the timeout, and nothing comes that is false.
func TestQueryServersThatMisbehave(t *testing.T) {
	good := `{"status":"success","data":{"resultType":"vector","result":[]}}`
	for name, c := range map[string]struct {
		serve http.HandlerFunc
		want  sensors.Fault
	}{
		"404": {func(w http.ResponseWriter, r *http.Request) { http.NotFound(w, r) }, sensors.NoResponse},
		"500": {func(w http.ResponseWriter, _ *http.Request) { http.Error(w, good, http.StatusInternalServerError) }, sensors.NoResponse},
		"503": {func(w http.ResponseWriter, _ *http.Request) { http.Error(w, good, http.StatusServiceUnavailable) }, sensors.NoResponse},
		"redirect": {func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "/elsewhere", http.StatusTemporaryRedirect)
		}, sensors.NoResponse},
		"silent": {func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() }, sensors.Timeout},
		"half a body": {func(w http.ResponseWriter, r *http.Request) {
			fmt.Fprint(w, good[:20])
			w.(http.Flusher).Flush()
			<-r.Context().Done()
		}, sensors.Timeout},
		"cut off": {func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Length", "1000")
			fmt.Fprint(w, good)
		}, sensors.NoResponse},
		"hangs up": {func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }, sensors.NoResponse},
		"endless": {func(w http.ResponseWriter, _ *http.Request) {
			for range mostAnswer/1024 + 2 {
				_, _ = w.Write(make([]byte, 1024))
			}
		}, sensors.Malformed},
		"a page":    {func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "<html>log in</html>") }, sensors.Malformed},
		"no series": {func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, good) }, sensors.NoResponse},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				_, _ = io.Copy(io.Discard, r.Body) // else it is not noticed that the client has gone
				c.serve(w, r)
			}))
			defer server.Close()
			timeout := 10 * time.Second // long enough for a busy machine
			if c.want == sensors.Timeout {
				timeout = 300 * time.Millisecond
			}
			q := newQuery(t, QueryOptions{URL: server.URL, Timeout: timeout, Probes: []QueryProbe{benchQuery()}})
			k := collect(t, q)
			soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) >= 1 })
			require.Equal(t, c.want, sensors.FaultOf(k.failures("bench")[0]), "%v", k.failures("bench")[0])
			require.Empty(t, k.good("bench"))
			k.end()
		})
	}
}

// A server that cannot be reached, or not in confidence: the probe is told as failed, and why.
func TestQueryServersThatAreAway(t *testing.T) {
	a := newAuthority(t)
	cert, key := a.issue("prometheus", time.Now().Add(-time.Minute))
	pair, err := tls.LoadX509KeyPair(cert, key)
	require.NoError(t, err)
	old := httptest.NewUnstartedServer(http.NotFoundHandler())
	old.Config.ErrorLog = log.New(io.Discard, "", 0)
	old.TLS = &tls.Config{Certificates: []tls.Certificate{pair}}
	old.StartTLS()
	t.Cleanup(old.Close)
	resets := fakeBroker(t, func(_ int, c net.Conn) {
		_ = c.(*net.TCPConn).SetLinger(0)
		_, _ = c.Read(make([]byte, 1))
		c.Close()
	})
	for want, url := range map[string]string{
		"connection refused":  "http://127.0.0.1:" + freePort(t),
		"no such host":        "http://prometheus.invalid:9090", // RFC 2606: never exists
		"connection reset":    "http" + resets[len("tcp"):],
		"certificate has exp": old.URL,
	} {
		t.Run(want, func(t *testing.T) {
			t.Parallel()
			q := newQuery(t, QueryOptions{URL: url, Timeout: 5 * time.Second, TLS: TLSFiles{CA: a.file}, Probes: []QueryProbe{benchQuery()}})
			k := collect(t, q)
			soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) >= 1 })
			if want != "no such host" { // where there is no name server at all, that is said
				require.ErrorContains(t, k.failures("bench")[0], want)
			}
			require.Equal(t, sensors.NoResponse, sensors.FaultOf(k.failures("bench")[0]), "%v", k.failures("bench")[0])
			require.Empty(t, k.good("bench"))
			k.end()
		})
	}
}

// Someone accepts the connection and never says a word.
func TestAHalfOpenServer(t *testing.T) {
	t.Parallel()
	address := fakeBroker(t, func(int, net.Conn) {})
	q := newQuery(t, QueryOptions{URL: "http" + address[len("tcp"):], Timeout: 200 * time.Millisecond, Probes: []QueryProbe{benchQuery()}})
	k := collect(t, q)
	soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) >= 2 })
	require.Equal(t, sensors.Timeout, sensors.FaultOf(k.failures("bench")[0]))
	k.end()
}

func TestQueriesShowWhoTheyAre(t *testing.T) {
	t.Parallel()
	header := make(chan string, 100)
	server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		header <- r.Header.Get("Authorization")
		http.Error(w, "no", http.StatusUnauthorized)
	}))
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.StartTLS()
	defer server.Close()
	ca := filepath.Join(t.TempDir(), "ca.pem")
	require.NoError(t, os.WriteFile(ca, pemOf(server), 0o600))
	for want, o := range map[string]QueryOptions{
		"":                                   {},
		"Bearer abc":                         {Token: "abc"},
		"Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ==": {User: "Aladdin", Password: "open sesame"}, // RFC 7617, 2
	} {
		o.URL, o.TLS, o.Probes = server.URL, TLSFiles{CA: ca}, []QueryProbe{benchQuery()}
		k := collect(t, newQuery(t, o))
		soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) > 0 })
		require.ErrorContains(t, k.failures("bench")[0], "401")
		require.Equal(t, want, <-header)
		k.end()
		for len(header) > 0 {
			<-header
		}
	}
	k := collect(t, newQuery(t, QueryOptions{URL: server.URL, Probes: []QueryProbe{benchQuery()}}))
	soon(t, "the probe is told as failed", func() bool { return len(k.failures("bench")) > 0 })
	require.ErrorContains(t, k.failures("bench")[0], "certificate")
	k.end()
}

func pemOf(server *httptest.Server) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw})
}
