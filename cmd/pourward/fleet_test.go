package main

import (
	"encoding/json"
	"fmt"
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
)

// call is one alert in a message of an Alertmanager.
type call struct {
	to     string // whom the message was for
	alert  string // with its labels, as the demo tells them
	shop   string
	firing bool
}

// phones take messages of Alertmanagers for everyone who is to be called.
type phones struct {
	url   string
	mu    sync.Mutex
	calls []call
}

func newPhones(t *testing.T) *phones {
	p := &phones{}
	server := httptest.NewServer(p)
	t.Cleanup(server.Close)
	p.url = server.URL
	return p
}

func (p *phones) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var message struct {
		Alerts []struct {
			Status string
			Labels map[string]string
		}
	}
	if err := json.NewDecoder(r.Body).Decode(&message); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, a := range message.Alerts {
		p.calls = append(p.calls, call{
			to: strings.TrimPrefix(r.URL.Path, "/"), alert: a.Labels["alertname"] + labelText(a.Labels),
			shop: a.Labels["shop"], firing: a.Status == "firing",
		})
	}
}

// heard are the calls that an alert fires, so far.
func (p *phones) heard(alert string) (out []call) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, c := range p.calls {
		if c.alert == alert && c.firing {
			out = append(out, c)
		}
	}
	return out
}

// exampleOf reads an example of the alerts for many shops and puts in what is another here: old, new, old,
// new ...; each old must be there.
func exampleOf(t *testing.T, file string, oldnew ...string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "alerts", "fleet", file))
	require.NoError(t, err)
	for i := 0; i < len(oldnew); i += 2 {
		require.Contains(t, string(text), oldnew[i], file)
	}
	return []byte(strings.NewReplacer(oldnew...).Replace(string(text)))
}

// lay writes a file into a folder.
func lay(t *testing.T, dir, name string, text []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(path, text, 0o600))
	return path
}

// fleetPeers starts two Alertmanagers that know of each other. turn is how long the second waits for the
// first to call.
func fleetPeers(t *testing.T, p *phones, turn time.Duration) []*alertmanager {
	t.Helper()
	text := exampleOf(t, "alertmanager.example.yml",
		"http://10.20.1.5:8724/ring", p.url+"/annex", "http://10.20.2.5:8724/ring", p.url+"/foundry", "http://10.20.3.5:8724/ring", p.url+"/yard",
		`email_configs:`, `webhook_configs:`, `{to: "office@example.org", send_resolved: true}`, fmt.Sprintf("{url: %q, send_resolved: true}", p.url+"/office"),
		`- location: America/New_York # the zone of the shops`, `- years: ["1990"]`) // no night while the test runs
	var out []*alertmanager
	at := []string{freeAddress(t), freeAddress(t)}
	for i := range at {
		dir := t.TempDir()
		c := start(t, program(t, "prometheus-alertmanager", "prometheus-alertmanager"), "--config.file="+lay(t, dir, "alertmanager.yml", text),
			"--storage.path="+filepath.Join(dir, "data"), "--web.listen-address=127.0.0.1:0",
			"--cluster.listen-address="+at[i], "--cluster.peer="+at[1-i], "--cluster.peer-timeout="+turn.String())
		out = append(out, &alertmanager{c, c.listening()})
	}
	for _, a := range out {
		eventually(t, "the Alertmanagers know of each other", func() bool {
			var status struct{ Cluster struct{ Peers []any } }
			getJSON(t, "http://"+a.address+"/api/v2/status", &status)
			return len(status.Cluster.Peers) == 2
		})
	}
	return out
}

// fleetPrometheus starts the Prometheus of the examples, for daemons by shop.
func fleetPrometheus(t *testing.T, daemons map[string]*daemon, peers []*alertmanager) *prometheus {
	t.Helper()
	dir := t.TempDir()
	rules, err := os.ReadFile(hastened(t, 1200))
	require.NoError(t, err)
	lay(t, dir, "pourward.rules.yml", rules)
	lay(t, dir, "fleet.rules.yml", exampleOf(t, "fleet.rules.yml"))
	address := func(shop string) string { return strings.TrimPrefix(daemons[shop].url, "http://") }
	lay(t, dir, "shops.yml", exampleOf(t, "shops.example.yml",
		"10.20.1.5:8673", address("annex"), "10.20.2.5:8673", address("foundry"), "10.20.3.5:8673", address("yard")))
	c := start(t, program(t, "prometheus", "prometheus"), "--config.file="+lay(t, dir, "prometheus.yml", exampleOf(t, "prometheus.example.yml",
		"15s", "1s", "10.20.0.11:9093", peers[0].address, "10.20.0.12:9093", peers[1].address)),
		"--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address=127.0.0.1:0")
	return &prometheus{c, c.listening()}
}

// centralPrometheus starts the central one of the examples, over that of a region.
func centralPrometheus(t *testing.T, region *prometheus) *prometheus {
	t.Helper()
	dir := t.TempDir()
	c := start(t, program(t, "prometheus", "prometheus"), "--config.file="+lay(t, dir, "prometheus.yml", exampleOf(t, "central.example.yml",
		"30s", "1s", `"10.20.0.10:9090", "10.30.0.10:9090"`, fmt.Sprintf("%q", region.address))),
		"--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address=127.0.0.1:0")
	return &prometheus{c, c.listening()}
}

// Many shops under one Prometheus, two Alertmanagers and a central Prometheus, all from the examples with
// other addresses and shorter waits: each shop's alert comes once, and to its own people; one of the
// Alertmanagers may end; and a daemon that is killed is missed in its own shop and at the office, nowhere
// else. Meanwhile everything that the dashboards ask for is found.
func TestManyShops(t *testing.T) {
	t.Parallel() // it waits more than it works
	const turn = 2 * time.Second
	p := newPhones(t)
	peers := fleetPeers(t, p, turn)
	daemons := map[string]*daemon{}
	for i, shop := range []string{"annex", "foundry", "yard"} {
		speed := []string{"1200", "600", "600"}[i]
		daemons[shop] = serving(t, "demo", "-speed", speed, "-seed", fmt.Sprint(i+1), "-dir", t.TempDir(), "-listen", "127.0.0.1:0")
		daemons[shop].begin("tile-"+shop, []string{"mixed"})
	}
	furnish(daemons["annex"])
	region := fleetPrometheus(t, daemons, peers)
	central := centralPrometheus(t, region)
	boardsAreFilled(t, region, central)

	over := func(shop string) string { return "PourwardWorkingLifeOver tile-" + shop + " batch-1" }
	for shop := range daemons {
		eventually(t, over(shop)+" is called", func() bool { return len(p.heard(over(shop))) > 0 })
	}
	called := time.Now()
	eventually(t, "the second Alertmanager's turn is past", func() bool { return time.Since(called) > 3*turn })
	for shop := range daemons {
		require.Equal(t, []call{{to: shop, alert: over(shop), shop: shop, firing: true}}, p.heard(over(shop)))
	}
	require.Empty(t, p.heard("PourwardDaemonDown"))

	peers[0].stop()
	require.Equal(t, -1, daemons["yard"].signal(syscall.SIGKILL))
	eventually(t, "the shop and the office miss the daemon", func() bool { return len(p.heard("PourwardDaemonDown")) == 2 })
	require.ElementsMatch(t, []call{
		{to: "yard", alert: "PourwardDaemonDown", shop: "yard", firing: true},
		{to: "office", alert: "PourwardDaemonDown", shop: "yard", firing: true},
	}, p.heard("PourwardDaemonDown"))
	eventually(t, "the central Prometheus has heard of it", func() bool {
		return central.finds(`shop:up:min{shop="yard"} == 0`) && central.finds(`shop:pourward_alerts_firing:count{shop="yard"} > 0`)
	})
	require.True(t, central.finds(`shop:up:min{shop="annex"} == 1`))
	for shop := range daemons {
		require.Len(t, p.heard(over(shop)), 1, "it was called before, which the second Alertmanager knows")
	}

	central.stop()
	region.stop()
	peers[1].stop()
}
