package deliver_test

import (
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
	"pourward/alerts/deliver"
)

func to(name, address string) deliver.Alertmanager {
	return deliver.Alertmanager{Name: name, URL: "http://" + address}
}

// deaf accepts connections and never answers.
func deaf(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	return l.Addr().String() // the system accepts; nobody reads
}

// An Alertmanager that is killed and comes back empty is told anew what stands; one that never answers delays
// nobody; and what ended while it was away is not held.
func TestAlertmanagerThatIsKilled(t *testing.T) {
	a, b := startAlertmanager(t, "", ""), startAlertmanager(t, "", "")
	f := openOffice(t, deliver.Options{Alertmanagers: []deliver.Alertmanager{to("deaf", deaf(t)), to("a", a.address), to("b", b.address)}})
	cold, over := alert("PourwardShopTooCold", "frieze", alerts.Warning), alert("PourwardWorkingLifeOver", "corbel", alerts.Critical)
	began := time.Now()
	f.tell(cold)
	for _, am := range []*alertmanager{a, b} {
		eventually(t, "it is held", func() bool { return len(am.held(t)) == 1 })
		require.Equal(t, []map[string]string{{
			"alertname": "PourwardShopTooCold", "mold": "frieze", "step": "batch-1", "severity": "warning", "shop": "Annex",
		}}, am.held(t))
	}
	require.Less(t, time.Since(began), 10*time.Second, "the deaf one takes twice as long to be given up")

	a.kill()
	f.tell(cold, over)
	eventually(t, "the other is told", func() bool { return len(b.held(t)) == 2 })
	eventually(t, "the first is missed", func() bool { return f.d.Health()[1].Failed > 0 })
	f.restart()
	f.tell(over)
	eventually(t, "the other is told of the end", func() bool { return slices.Equal(b.names(t), []string{"PourwardWorkingLifeOver corbel"}) })
	a.up(t)
	eventually(t, "the first is told", func() bool { return slices.Equal(a.names(t), []string{"PourwardWorkingLifeOver corbel"}) })
	f.tell()
	for _, am := range []*alertmanager{a, b} {
		eventually(t, "it has ended", func() bool { return len(am.held(t)) == 0 })
	}
	eventually(t, "the deaf one is known to be", func() bool { return f.d.Health()[0].Failed > 0 })
	require.Contains(t, f.log.String(), "target=deaf")
}

// A board whose clock is wrong by years: instants are told by the Alertmanager's clock.
func TestAlertmanagerWithAnotherClock(t *testing.T) {
	a := startAlertmanager(t, "", "")
	for name, off := range map[string]time.Duration{"behind": -56 * 365 * 24 * time.Hour, "ahead": 3 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			f := openOffice(t, deliver.Options{Alertmanagers: []deliver.Alertmanager{to("a", a.address)}})
			f.stop()
			f.opts.Now = func() time.Time { return time.Now().Add(off) }
			f.start()
			x := alert("Pourward"+name, "frieze", alerts.Warning)
			x.Since = f.opts.Now().Add(-time.Minute)
			f.d.Tell(deliver.State{At: f.opts.Now(), Active: []alerts.Alert{x}})
			eventually(t, "it is held", func() bool { return slices.Equal(a.names(t), []string{x.Name + " frieze"}) })
			f.d.Tell(deliver.State{At: f.opts.Now()})
			eventually(t, "it has ended", func() bool { return len(a.held(t)) == 0 })
		})
	}
}

// rings counts what Alertmanagers call out, by alert and state.
type rings struct {
	mu sync.Mutex
	by map[string]int
}

func (r *rings) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	var call struct {
		Alerts []struct {
			Status string
			Labels map[string]string
		}
	}
	body, err := io.ReadAll(req.Body)
	if err != nil || json.Unmarshal(body, &call) != nil {
		http.Error(w, "no call", http.StatusBadRequest)
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, a := range call.Alerts {
		r.by[a.Labels["alertname"]+" "+a.Status]++
	}
}

func (r *rings) of(what string) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.by[what]
}

// considered counts how often an Alertmanager asked its log of notifications whether to call.
func (a *alertmanager) considered(t *testing.T) string {
	t.Helper()
	res, err := http.Get("http://" + a.address + "/metrics")
	require.NoError(t, err)
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	found := regexp.MustCompile(`(?m)^alertmanager_nflog_queries_total (.*)$`).FindSubmatch(text)
	require.NotNil(t, found)
	return string(found[1])
}

// Two daemons watch one shop and tell two Alertmanagers that belong together. Whoever is called hears of the
// alert once, and of its end once.
func TestTwoDaemonsAndTwoAlertmanagersCallOnce(t *testing.T) {
	hook := &rings{by: map[string]int{}}
	srv := httptest.NewServer(hook)
	defer srv.Close()
	gossip := "127.0.0.1:" + freePort(t)
	a := startAlertmanager(t, srv.URL, gossip)
	b := startAlertmanager(t, srv.URL, "127.0.0.1:"+freePort(t), gossip)
	eventually(t, "they know each other", func() bool { return a.peers(t) == 2 && b.peers(t) == 2 })

	both := []deliver.Alertmanager{to("a", a.address), to("b", b.address)}
	f, g := openOffice(t, deliver.Options{Alertmanagers: both}), openOffice(t, deliver.Options{Alertmanagers: both})
	first, second := alert("PourwardDoubtful", "frieze", alerts.Critical), alert("PourwardDoubtful", "frieze", alerts.Critical)
	second.Since = second.Since.Add(-3 * time.Second) // it saw it earlier
	second.Description = "Something is so at 22 °C."
	f.tell(first)
	g.tell(second)
	for _, am := range []*alertmanager{a, b} {
		eventually(t, "it is held once", func() bool { return len(am.held(t)) == 1 })
		eventually(t, "it has thought about a call", func() bool { return am.considered(t) != "0" })
	}
	eventually(t, "somebody is called", func() bool { return hook.of("PourwardDoubtful firing") > 0 })

	f.tell()
	g.tell()
	for _, am := range []*alertmanager{a, b} {
		eventually(t, "it has ended", func() bool { return len(am.held(t)) == 0 })
		before := am.considered(t)
		eventually(t, "it has thought again", func() bool { return am.considered(t) != before })
	}
	eventually(t, "the end is told", func() bool { return hook.of("PourwardDoubtful resolved") > 0 })
	require.Equal(t, 1, hook.of("PourwardDoubtful firing"))
	require.Equal(t, 1, hook.of("PourwardDoubtful resolved"))
}

func (a *alertmanager) peers(t *testing.T) int {
	t.Helper()
	res, err := http.Get("http://" + a.address + "/api/v2/status")
	require.NoError(t, err)
	defer res.Body.Close()
	var status struct {
		Cluster struct {
			Status string
			Peers  []any
		}
	}
	require.NoError(t, json.NewDecoder(res.Body).Decode(&status))
	if status.Cluster.Status != "ready" {
		return 0
	}
	return len(status.Cluster.Peers)
}

// The trial is held, and ends by itself within a minute or so.
func TestTryAnAlertmanager(t *testing.T) {
	a := startAlertmanager(t, "", "")
	o := deliver.Options{Shop: "Annex", Zone: time.UTC, Now: time.Now, Alertmanagers: []deliver.Alertmanager{to("a", a.address), to("gone", "127.0.0.1:1")}}
	tried, err := deliver.Try(t.Context(), o, "")
	require.NoError(t, err)
	require.NoError(t, tried[0].Err)
	require.ErrorContains(t, tried[1].Err, "connection refused")
	require.Equal(t, []string{deliver.TrialName + " "}, a.names(t))
}
