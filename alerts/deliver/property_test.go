package deliver

import (
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/alerts"
)

// mode is how a receiver of the tests behaves.
type mode int

const (
	sound  mode = iota
	refuse      // says that it takes nothing
	dead        // hangs up before it has read anything
	takes       // takes it and hangs up before it has said so
)

// receiver is a webhook and an Alertmanager at once. It keeps what came by the rules that both have: a webhook
// drops a key it has seen; to an Alertmanager an alert is its labels and stands until endsAt.
type receiver struct {
	mu    sync.Mutex // guards what follows
	mode  mode
	seen  map[string]bool
	inbox []Message
	held  map[string]posted
}

func (r *receiver) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.mode == dead {
		panic(http.ErrAbortHandler)
	}
	body, err := io.ReadAll(req.Body)
	if err != nil || r.mode == refuse {
		http.Error(w, "not now", http.StatusServiceUnavailable)
		return
	}
	if req.URL.Path == "/api/v2/alerts" {
		r.hold(body)
	} else {
		r.file(req.Header.Get("webhook-id"), body)
	}
	if r.mode == takes {
		panic(http.ErrAbortHandler)
	}
}

func (r *receiver) behave(m mode) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.mode = m
}

func (r *receiver) hold(body []byte) {
	var list []posted
	if json.Unmarshal(body, &list) != nil {
		panic("no list of alerts")
	}
	for _, p := range list {
		r.held[fmt.Sprint(p.Labels)] = p
	}
}

func (r *receiver) file(key string, body []byte) {
	var m Message
	if json.Unmarshal(body, &m) != nil || key == "" || key != m.Key {
		panic("no message")
	}
	if !r.seen[key] {
		r.inbox = append(r.inbox, m)
	}
	r.seen[key] = true
}

// shopDay is a shop whose alerts begin and end, a deliverer that is started anew now and then, and a receiver.
type shopDay struct {
	t      *rapid.T
	file   string
	url    string
	d      *Deliverer
	out    *receiver
	now    time.Time
	quiet  *Quiet
	active map[string]alerts.Alert
	all    map[string]alerts.Alert // every alert that ever began, by episode
	ended  map[string]bool         // those of all that ended
}

func (s *shopDay) start() {
	d, err := Open(s.t.Context(), Options{
		Shop: "annex", Zone: time.UTC, File: s.file, Quiet: s.quiet,
		Alertmanagers: []Alertmanager{{Name: "am", URL: s.url}},
		Webhooks:      []Webhook{{Name: "hook", URL: s.url + "/hook"}},
		Now:           func() time.Time { return s.now }, Log: slog.New(slog.DiscardHandler),
	})
	require.NoError(s.t, err)
	require.NoError(s.t, d.failed)
	s.d = d
}

// rounds lets the couriers look once. A daemon that ends in the middle loses what they noted in memory.
func (s *shopDay) rounds() (failed error) {
	for _, c := range s.d.couriers {
		if _, _, err := c.rounds.round(s.t.Context(), s.d, c.target); err != nil {
			failed = err
		}
	}
	return failed
}

func (s *shopDay) tell() {
	var list []alerts.Alert
	for _, name := range []string{"a", "b", "c", "d"} {
		if a, ok := s.active[name]; ok {
			list = append(list, a)
		}
	}
	s.d.Tell(State{At: s.now, Trusted: true, Active: list})
	s.d.takeNews(s.t.Context())
}

// flip begins an alert that does not stand, or ends one that does.
func (s *shopDay) flip(name string) {
	if a, ok := s.active[name]; ok {
		delete(s.active, name)
		s.ended[episodeOf(a.Name, a.Since)] = true
		return
	}
	severity := map[string]alerts.Severity{"a": alerts.Critical, "b": alerts.Warning, "c": alerts.Warning, "d": alerts.Info}[name]
	a := alerts.Alert{
		Name: name, Severity: severity, Labels: map[string]string{"mold": "frieze"}, Since: s.now,
		Summary: "Something.", Description: "Something is so.", WhatToDo: "Look.", Passing: severity == alerts.Info,
	}
	s.active[name] = a
	s.all[episodeOf(name, s.now)] = a
}

func episodeOf(name string, since time.Time) string { return fmt.Sprint(name, " ", since.UnixNano()) }

// Whatever begins and ends, however the receiver fails, whenever the daemon is killed: in the end the
// Alertmanager holds what stands, and who reads the messages knows what stands; nobody was told of one thing
// twice, and without quiet hours nothing is lost.
func TestReceiversEndWithTheTrueState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "books")
		require.NoError(t, err)
		defer os.RemoveAll(dir)
		out := &receiver{seen: map[string]bool{}, held: map[string]posted{}}
		srv := httptest.NewUnstartedServer(out)
		srv.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)
		srv.Start()
		defer srv.Close()
		s := &shopDay{
			t: t, file: filepath.Join(dir, "books"), url: srv.URL, out: out,
			now:    time.Now().UTC().Truncate(time.Second),
			active: map[string]alerts.Alert{}, all: map[string]alerts.Alert{}, ended: map[string]bool{},
		}
		if rapid.Bool().Draw(t, "quiet hours") {
			s.quiet = &Quiet{From: 22 * time.Hour, To: 7 * time.Hour, Zone: time.UTC}
		}
		s.start()
		defer func() { require.NoError(t, s.d.Close()) }()
		for range rapid.IntRange(1, 25).Draw(t, "steps") {
			s.step()
		}
		s.calm()
		s.judgeHeld()
		s.judgeInbox()
	})
}

func (s *shopDay) step() {
	s.now = s.now.Add(time.Duration(rapid.IntRange(1, 40*60).Draw(s.t, "seconds")) * time.Second)
	switch rapid.IntRange(0, 5).Draw(s.t, "what") {
	case 0, 1, 2:
		s.flip(rapid.SampledFrom([]string{"a", "b", "c", "d"}).Draw(s.t, "alert"))
		s.tell()
	case 3:
		s.out.behave(rapid.SampledFrom([]mode{sound, refuse, dead, takes}).Draw(s.t, "mode"))
	case 4: // killed, and started again
		require.NoError(s.t, s.d.Close())
		s.start()
		require.Len(s.t, s.d.Standing(), len(s.active))
	case 5:
	}
	_ = s.rounds() // it may fail
}

// calm lets an hour without quiet pass, in which the receiver is sound.
func (s *shopDay) calm() {
	s.out.behave(sound)
	s.now = time.Date(s.now.Year(), s.now.Month(), s.now.Day()+1, 12, 0, 0, 0, time.UTC)
	s.tell()
	for range 4 {
		require.NoError(s.t, s.rounds())
	}
	for _, h := range s.d.Health() {
		require.Zero(s.t, h.Waiting+h.Held, h)
	}
}

func (s *shopDay) judgeHeld() {
	standing := 0
	s.out.mu.Lock()
	defer s.out.mu.Unlock()
	for labels, p := range s.out.held {
		a, stands := s.active[p.Labels["alertname"]]
		require.False(s.t, p.StartsAt.After(p.EndsAt), labels)
		if !stands {
			// The receiver's clock is the real one: the end is told by it.
			require.False(s.t, p.EndsAt.After(time.Now().Add(time.Second)), labels)
			continue
		}
		standing++
		require.True(s.t, p.EndsAt.After(time.Now().Add(outlives/2)), labels)
		require.Equal(s.t, string(a.Severity), p.Labels["severity"])
	}
	require.Equal(s.t, len(s.active), standing)
}

func (s *shopDay) judgeInbox() {
	begins, ends := map[string]int{}, map[string]int{}
	s.out.mu.Lock()
	defer s.out.mu.Unlock()
	for _, m := range s.out.inbox {
		for _, t := range m.Began {
			begins[episodeOf(t.Name, t.Since)]++
		}
		for _, t := range m.Ended {
			ends[episodeOf(t.Name, t.Since)]++
		}
		for _, t := range m.Passed {
			begins[episodeOf(t.Name, t.Since)]++
			ends[episodeOf(t.Name, t.Since)]++
		}
	}
	for id, a := range s.all {
		require.LessOrEqual(s.t, begins[id], 1, id)
		switch {
		case !s.ended[id]:
			require.Equal(s.t, 1, begins[id], "%s stands", id)
			require.Zero(s.t, ends[id], id)
		case a.Passing:
			require.Zero(s.t, ends[id], "%s: its end is no news", id)
		case s.quiet == nil:
			require.Equal(s.t, 1, begins[id], "%s is lost", id)
			require.Equal(s.t, 1, ends[id], "%s did not end", id)
		default:
			require.Equal(s.t, begins[id], ends[id], id)
		}
	}
}
