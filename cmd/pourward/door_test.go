package main

import (
	"bytes"
	"crypto/tls"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// guardedDaemon is a daemon behind a door, in a process of its own, and its files.
type guardedDaemon struct {
	*daemon
	dir    string
	client *http.Client // believes its certificate
}

func serveGuarded(t *testing.T) guardedDaemon {
	t.Helper()
	file, _ := liveConfig(t)
	dir := filepath.Dir(file)
	trust := layWeb(t, dir)
	layTree(t, dir, map[string]string{"anna.password": annaPassword, "ben.password": benPassword, "wrong.password": "guess"})
	f, err := os.OpenFile(file, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = io.WriteString(f, "access: {web_config: web.yml, roles: {anna: mark}}\nlog: {level: debug}\n")
	require.NoError(t, err)
	require.NoError(t, f.Close())
	c := start(t, "pourward", "serve", "-config", file)
	d := &daemon{c, c.says(`page (https://127\.0\.0\.1:\d+)/ `)[1]}
	return guardedDaemon{d, dir, &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trust}}}}
}

// command runs a command of the program as a user.
func (d guardedDaemon) command(user, password, name string, args ...string) (out, errs string, code int) {
	d.t.Helper()
	var o, e bytes.Buffer
	all := append([]string{name, "-to", d.url, "-ca", filepath.Join(d.dir, "cert.pem"), "-user", user, "-password-file", filepath.Join(d.dir, password+".password")}, args...)
	cmd := exec.CommandContext(d.t.Context(), "pourward", all...)
	cmd.Stdout, cmd.Stderr = &o, &e
	_ = cmd.Run() // the exit code says it
	return o.String(), e.String(), cmd.ProcessState.ExitCode()
}

func (d guardedDaemon) status(address string) (status int, body string) {
	d.t.Helper()
	res, err := d.client.Get(address)
	require.NoError(d.t, err)
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	require.NoError(d.t, err)
	return res.StatusCode, string(text)
}

func TestCommandsBehindTheDoor(t *testing.T) {
	t.Parallel() // it waits more than it works
	d := serveGuarded(t)
	begun := []string{"-mold", "corbel", "-title", "Corbel in the annex", "-place", "bench", "begun"}
	out, _, code := d.command("anna", "anna", "mark", begun...)
	require.Zero(t, code)
	require.Contains(t, out, "mark 1 is safe: corbel: begun")
	_, errs, code := d.command("ben", "ben", "mark", "-mold", "corbel", "-material", "shellac", "coat-on")
	require.Equal(t, 1, code)
	require.Equal(t, "pourward mark: ben may look, but not mark. Log in as someone who may.\n", errs)
	_, errs, code = d.command("anna", "wrong", "mark", begun...)
	require.Equal(t, 1, code)
	require.Equal(t, "pourward mark: the daemon does not know this name with this password\n", errs)
	_, errs, _ = d.mark("-ca", filepath.Join(d.dir, "cert.pem"), "-mold", "corbel", "poured")
	require.Equal(t, "pourward mark: the daemon asks who you are; give -user and -password-file\n", errs)
	_, errs, _ = d.mark("-mold", "corbel", "poured")
	require.Contains(t, errs, "certificate", "nobody known signed it")

	out, _, code = d.command("anna", "anna", "link", "-mold", "corbel", "-for", "7d")
	require.Zero(t, code)
	told := strings.Fields(out)
	id, address := told[0], told[len(told)-1]
	require.Regexp(t, `^https://127\.0\.0\.1:\d+/look/[A-Za-z0-9_-]{32}$`, address)
	status, body := d.status(address)
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, body, "Corbel in the annex")
	out, _, _ = d.command("anna", "anna", "link", "-list")
	require.Regexp(t, `^`+id+`  corbel until \d{4}-\d\d-\d\d \d\d:\d\d:\d\d, by anna\n$`, out)
	_, errs, code = d.command("ben", "ben", "link", "-mold", "corbel")
	require.Equal(t, 1, code)
	require.Contains(t, errs, "ben may look")
	out, _, code = d.command("anna", "anna", "link", "-revoke", id)
	require.Zero(t, code)
	require.Equal(t, "link "+id+" to corbel opens nothing any more\n", out)
	status, body = d.status(address)
	require.Equal(t, http.StatusNotFound, status)
	require.NotContains(t, body, "Corbel")
	out, _, _ = d.command("anna", "anna", "link", "-list")
	require.Equal(t, "no link is open\n", out)

	require.Zero(t, d.signal(syscall.SIGTERM))
	for _, secret := range []string{annaPassword, benPassword, strings.TrimPrefix(address, d.url)} {
		require.NotContains(t, d.errs.String()+d.out.String(), secret)
	}
	require.Contains(t, d.errs.String(), "link made")

	record, err := exec.CommandContext(t.Context(), "pourward", "export", "-config", filepath.Join(d.dir, "annex.yml")).Output()
	require.NoError(t, err)
	require.Contains(t, string(record), `"entered_by":"anna"`)
}

// A real Prometheus scrapes over TLS with a name and a password, from the same file of users that its own
// tool finds sound; with a wrong password it is told nothing.
func TestPrometheusBehindTheDoor(t *testing.T) {
	t.Parallel() // it waits more than it works
	d := serveGuarded(t)
	check, err := exec.CommandContext(t.Context(), program(t, "promtool", "prometheus"), "check", "web-config", filepath.Join(d.dir, "web.yml")).CombinedOutput()
	require.NoError(t, err, "%s", check)
	job := func(name, password string) string {
		return fmt.Sprintf("  - {job_name: %s, scheme: https, tls_config: {ca_file: %q}, basic_auth: {username: ben, password_file: %q}, static_configs: [{targets: [%q]}]}\n",
			name, filepath.Join(d.dir, "cert.pem"), filepath.Join(d.dir, password+".password"), strings.TrimPrefix(d.url, "https://"))
	}
	file := filepath.Join(d.dir, "prometheus.yml")
	text := "global: {scrape_interval: 1s}\nscrape_configs:\n" + job("right", "ben") + job("wrong", "wrong")
	require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
	c := start(t, program(t, "prometheus", "prometheus"), "--config.file="+file,
		"--storage.tsdb.path="+filepath.Join(d.dir, "data"), "--web.listen-address=127.0.0.1:0")
	p := &prometheus{c, c.listening()}
	p.says("Server is ready to receive web requests")
	for _, query := range []string{`up{job="right"} == 1`, `up{job="wrong"} == 0`, `pourward_probe_temperature_celsius{job="right",probe="skin"}`} {
		eventually(t, "Prometheus finds "+query, func() bool { return p.finds(query) })
	}
	require.False(t, p.finds(`{__name__=~"pourward_.*", job="wrong"}`))
	p.stop()
	require.Zero(t, d.signal(syscall.SIGTERM))
}
