package main

import (
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts/deliver"
	"pourward/dashboards/metrics"
	"pourward/model/journal"
	"pourward/sensors"
)

// phone is a webhook that keeps what it gets, by the key of the message.
type phone struct {
	mu   sync.Mutex
	got  map[string]deliver.Message
	gets int
}

func (p *phone) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	var m deliver.Message
	if json.NewDecoder(req.Body).Decode(&m) != nil || req.Header.Get("Authorization") != "Bearer s3cret" {
		w.WriteHeader(http.StatusForbidden)
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.got[m.Key] = m
	p.gets++
}

// told counts how often an alert began and ended in what it got.
func (p *phone) told(name string) (began, ended int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, m := range p.got {
		for _, t := range m.Began {
			if t.Name == name {
				began++
			}
		}
		for _, t := range m.Ended {
			if t.Name == name {
				ended++
			}
		}
	}
	return began, ended
}

// warm puts six hours of a warm bench on record, up to now.
func warm(t *testing.T, file string) {
	t.Helper()
	j, err := journal.Open(t.Context(), file, journal.Options{})
	require.NoError(t, err)
	now := time.Now().UTC()
	for at := now.Add(-6 * time.Hour); at.Before(now); at = at.Add(time.Minute) {
		require.NoError(t, j.AppendReading(sensors.Reading{Probe: "skin", At: at, Temp: sensors.GoodMeasure(25.875)}))
	}
	require.NoError(t, j.Close(t.Context()))
}

// The daemon is killed, without a word, after it has called someone, and again after the end: whoever is called
// hears of it once, and the Alertmanager holds what is true.
func TestDaemonThatIsKilledCallsOnce(t *testing.T) {
	t.Parallel() // it waits more than it works
	a := startAlertmanager(t)
	p := &phone{got: map[string]deliver.Message{}}
	srv := httptest.NewServer(p)
	defer srv.Close()
	file, _ := liveConfig(t)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	token := filepath.Join(filepath.Dir(file), "phone.token")
	require.NoError(t, os.WriteFile(token, []byte("s3cret\n"), 0o600))
	text = fmt.Appendf(text, `
alerts:
  alertmanagers: [{name: house, url: "http://%s"}]
  webhooks: [{name: phone, url: %q, token_file: phone.token}]
`, a.address, srv.URL)
	require.NoError(t, os.WriteFile(file, text, 0o600))

	const over = "PourwardWorkingLifeOver"
	again := func(d *daemon) *daemon {
		if d != nil {
			require.Equal(t, -1, d.signal(syscall.SIGKILL))
		}
		return serving(t, "serve", "-config", file)
	}
	counts := func(began, ended int) func() bool {
		return func() bool {
			b, e := p.told(over)
			return b == began && e == ended
		}
	}
	warm(t, filepath.Join(filepath.Dir(file), "annex.journal"))
	d := again(nil)
	d.marked("-mold", "tile", "-place", "bench", "-material", "platinum-slow", "-at", "5 h ago", "begun")
	d.marked("-mold", "tile", "-at", "5 h ago", "mixed")
	eventually(t, "the phone rings", counts(1, 0))
	eventually(t, "the Alertmanager holds it", func() bool { return a.held()[over+" tile batch-1"] })

	d = again(d)
	require.Contains(t, string(d.get("/")), "The working life of a mixed batch is over", "it stands on the page as well")
	d.marked("-mold", "tile", "poured")
	eventually(t, "the phone is told of the end", counts(1, 1))
	eventually(t, "the Alertmanager holds it no more", func() bool { return !a.held()[over+" tile batch-1"] })

	d = again(d)
	series := `pourward_delivery_waiting_alerts{channel="webhook",target="phone"}`
	eventually(t, "nothing waits", func() bool {
		text := string(d.get("/metrics"))
		return strings.Contains(text, series) && value(t, text, series) == 0
	})
	require.Zero(t, d.signal(syscall.SIGTERM))
	require.True(t, counts(1, 1)())
	require.NotContains(t, d.errs.String(), "s3cret")
	for _, m := range p.got {
		require.Equal(t, "Annex", m.Shop)
	}
	a.stop()
}

// Probes that are recorded tell of another time: nobody is called for it.
func TestRecordingsCallNobody(t *testing.T) {
	out := &notes{}
	file := filepath.Join(t.TempDir(), "shop.yml")
	require.NoError(t, os.WriteFile(file, []byte(`
shop: {name: Annex, zone: UTC}
journal: {file: shop.journal}
places: [{name: bench}]
probes: [{name: air, place: bench, recorded: {file: a.csv, time: {column: t, layout: unix}, temperature: {column: c, unit: C}}}]
alerts: {webhooks: [{name: phone, url: "http://127.0.0.1:1/"}]}
`), 0o600))
	require.Equal(t, 1, run(t.Context(), []string{"check-config", file}, out, out))
	require.Equal(t, exitToldWrong, run(t.Context(), []string{"serve", "-config", file}, out, out))
	require.Equal(t, 2, strings.Count(out.String(), "would be told of another time; delete alerts"))
}

// Everyone who is to be told is out of reach, each in another way: the page shows the alert at once all the same, that
// nobody hears of it, and takes marks.
func TestPageShowsWhatNobodyHears(t *testing.T) {
	t.Parallel() // it waits more than it works
	// The system accepts connections there, and nobody answers.
	deaf, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer deaf.Close()
	broken := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		http.Error(w, "disk full", http.StatusInternalServerError)
	}))
	defer broken.Close()
	file, _ := liveConfig(t)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(file, fmt.Appendf(text, `
alerts:
  alertmanagers: [{name: deaf, url: "http://%s"}, {name: gone, url: "http://127.0.0.1:1"}]
  webhooks: [{name: broken, url: %q}, {name: unnamed, url: "http://phone.invalid/"}]
`, deaf.Addr(), broken.URL), 0o600))
	warm(t, filepath.Join(filepath.Dir(file), "annex.journal"))
	d := serving(t, "serve", "-config", file)
	d.marked("-mold", "tile", "-place", "bench", "-material", "platinum-slow", "-at", "5 h ago", "begun")
	d.marked("-mold", "tile", "-at", "5 h ago", "mixed")
	eventually(t, "the page shows the alert", func() bool { return strings.Contains(string(d.get("/")), "The working life of a mixed batch is over.") })
	eventually(t, "it is known that nobody hears", func() bool {
		numbers := string(d.get("/metrics"))
		for _, target := range []string{`{channel="alertmanager",target="gone"}`, `{channel="webhook",target="broken"}`, `{channel="webhook",target="unnamed"}`} {
			if value(t, numbers, metrics.DeliveryFailures+target) == 0 || value(t, numbers, metrics.DeliveryWaiting+target) == 0 {
				return false
			}
		}
		return true
	})
	d.marked("-mold", "tile", "-of", "cup", "-found", "firm", "checked")
	require.Zero(t, d.signal(syscall.SIGTERM))
}
