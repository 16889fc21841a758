package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/require"

	"pourward/alerts"
)

// program finds a program of the Prometheus project. They are required: without them nothing outside
// this project judges whether an alert arrives.
func program(t *testing.T, name, debianPackage string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	require.NoError(t, err, "%s is missing: install Debian's package %s, which brings it", name, debianPackage)
	return path
}

// listening waits for the address at which a server of the Prometheus project says it can be reached.
func (c *child) listening() string {
	c.t.Helper()
	return c.says(`msg="Listening on".* address=(127\.0\.0\.1:\d+)`)[1]
}

// stop ends a server and wants it to go of its own accord.
func (c *child) stop() {
	c.t.Helper()
	require.Zero(c.t, c.signal(syscall.SIGTERM), c.cmd.Path)
}

// alertmanager is one that tells nobody.
type alertmanager struct {
	*child
	address string
}

func startAlertmanager(t *testing.T) *alertmanager {
	t.Helper()
	dir := t.TempDir()
	config := filepath.Join(dir, "alertmanager.yml")
	require.NoError(t, os.WriteFile(config, []byte("route: {receiver: nobody}\nreceivers: [{name: nobody}]\n"), 0o644))
	c := start(t, program(t, "prometheus-alertmanager", "prometheus-alertmanager"), "--config.file="+config,
		"--storage.path="+filepath.Join(dir, "data"), "--web.listen-address=127.0.0.1:0", "--cluster.listen-address=")
	return &alertmanager{c, c.listening()}
}

// held are the alerts it holds now, named as the demo tells them.
func (a *alertmanager) held() map[string]bool {
	a.t.Helper()
	var list []struct{ Labels map[string]string }
	getJSON(a.t, "http://"+a.address+"/api/v2/alerts?active=true", &list)
	held := map[string]bool{}
	for _, x := range list {
		held[x.Labels["alertname"]+labelText(x.Labels)] = true
	}
	return held
}

// prometheus scrapes a daemon and evaluates its rules, both every second.
type prometheus struct {
	*child
	address string
}

func startPrometheus(t *testing.T, daemon, rules, alertmanager string) *prometheus {
	t.Helper()
	dir := t.TempDir()
	config := filepath.Join(dir, "prometheus.yml")
	require.NoError(t, os.WriteFile(config, fmt.Appendf(nil, `
global: {scrape_interval: 1s, evaluation_interval: 1s}
rule_files: [%q]
alerting: {alertmanagers: [{static_configs: [{targets: [%q]}]}]}
scrape_configs:
  - {job_name: %s, static_configs: [{targets: [%q]}]}
`, rules, alertmanager, alerts.JobName, daemon), 0o644))
	c := start(t, program(t, "prometheus", "prometheus"), "--config.file="+config,
		"--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address=127.0.0.1:0")
	return &prometheus{c, c.listening()}
}

// finds reports whether a query finds anything.
func (p *prometheus) finds(query string) bool {
	p.t.Helper()
	var answer struct{ Data struct{ Result []any } }
	getJSON(p.t, "http://"+p.address+"/api/v1/query?query="+url.QueryEscape(query), &answer)
	return len(answer.Data.Result) > 0
}

func getJSON(t *testing.T, url string, into any) {
	t.Helper()
	res, err := http.Get(url)
	require.NoError(t, err)
	defer res.Body.Close()
	require.Equal(t, http.StatusOK, res.StatusCode, url)
	require.NoError(t, json.NewDecoder(res.Body).Decode(into))
}

// hastened writes the project's rules for a shop whose time runs fast. Prometheus lives in real time: how
// long a condition must hold, and be gone, is divided by the speed. Nothing else is changed.
func hastened(t *testing.T, speed float64) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "alerts", "pourward.rules.yml"))
	require.NoError(t, err)
	var file map[string]any
	require.NoError(t, yaml.Unmarshal(text, &file))
	waits := 0
	for _, g := range file["groups"].([]any) {
		for _, r := range g.(map[string]any)["rules"].([]any) {
			waits += hasten(t, r.(map[string]any), speed)
		}
	}
	require.Equal(t, strings.Count(string(text), "\n        for: ")+strings.Count(string(text), "\n        keep_firing_for: "), waits)
	text, err = yaml.Marshal(file)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "pourward.rules.yml")
	require.NoError(t, os.WriteFile(path, text, 0o644))
	return path
}

// hasten divides the waits of one rule and returns how many there were.
func hasten(t *testing.T, rule map[string]any, speed float64) int {
	t.Helper()
	n := 0
	for _, key := range []string{"for", "keep_firing_for"} {
		wait, ok := rule[key].(string)
		if !ok {
			continue
		}
		d, err := time.ParseDuration(wait)
		require.NoError(t, err)
		rule[key] = fmt.Sprintf("%dms", time.Duration(float64(d)/speed).Milliseconds())
		n++
	}
	return n
}
