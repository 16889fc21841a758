package deliver_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"mime/quotedprintable"
	"net"
	"net/http"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// patience is how long a test waits for another process before it gives up: far longer than any takes.
var patience = flag.Duration("patience", 90*time.Second, "how long a test waits for another process")

// eventually waits until something is so.
func eventually(t *testing.T, what string, so func() bool) {
	t.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for late := time.After(*patience); !so(); {
		select {
		case <-tick.C:
		case <-late:
			require.Fail(t, "waited in vain", "until %s", what)
		}
	}
}

// server is a program beside the test, in a process of its own.
type server struct {
	t     *testing.T
	cmd   *exec.Cmd
	ended chan struct{}

	mu  sync.Mutex
	out bytes.Buffer
}

func (s *server) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.out.Write(p)
}

func (s *server) said() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.out.String()
}

// start starts a program, which must be there: without it nothing outside this project judges what arrives. It
// is gone when the test ends.
func start(t *testing.T, program, debianPackage string, args ...string) *server {
	t.Helper()
	path, err := exec.LookPath(program)
	require.NoError(t, err, "%s is missing: install Debian's package %s, which brings it", program, debianPackage)
	s := &server{t: t, cmd: exec.Command(path, args...), ended: make(chan struct{})}
	s.cmd.Stdout, s.cmd.Stderr = s, s
	require.NoError(t, s.cmd.Start())
	go func() {
		_ = s.cmd.Wait() // how it ended does not matter
		close(s.ended)
	}()
	t.Cleanup(func() {
		s.kill()
		if t.Failed() {
			t.Logf("%s %v said:\n%s", program, args, s.said())
		}
	})
	return s
}

// kill ends it as a power cut would.
func (s *server) kill() {
	_ = s.cmd.Process.Kill() // it may have ended already
	<-s.ended
}

// says waits until it says what matches, and returns the groups of the match.
func (s *server) says(pattern string) []string {
	s.t.Helper()
	re := regexp.MustCompile(pattern)
	var found []string
	eventually(s.t, s.cmd.Path+" says "+pattern, func() bool {
		found = re.FindStringSubmatch(s.said())
		return found != nil
	})
	return found
}

// freePort is a port that nobody uses now.
func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

// alertmanager is a real one at an address that it keeps when it is started again.
type alertmanager struct {
	*server
	address string
	args    []string
}

// startAlertmanager starts one that posts what it calls out to hook, which may be empty, and belongs to peers.
func startAlertmanager(t *testing.T, hook, gossip string, peers ...string) *alertmanager {
	t.Helper()
	var more []string
	for _, p := range peers {
		more = append(more, "--cluster.peer="+p)
	}
	a := newAlertmanager(t, hook, gossip, more...)
	a.up(t)
	return a
}

// newAlertmanager is one that is not up yet, with more flags of its own.
func newAlertmanager(t *testing.T, hook, gossip string, more ...string) *alertmanager {
	t.Helper()
	dir := t.TempDir()
	// Those that belong together find out who calls within the peer timeout, which must be far shorter than the
	// time between two calls.
	config := "route: {receiver: all, group_by: [alertname], group_wait: 100ms, group_interval: 3s, repeat_interval: 1h}\nreceivers:\n  - name: all\n"
	if hook != "" {
		config += fmt.Sprintf("    webhook_configs: [{url: %q, send_resolved: true}]\n", hook)
	}
	file := filepath.Join(dir, "alertmanager.yml")
	require.NoError(t, os.WriteFile(file, []byte(config), 0o644))
	a := &alertmanager{address: "127.0.0.1:" + freePort(t)}
	a.args = append([]string{"--config.file=" + file, "--storage.path=" + filepath.Join(dir, "data"),
		"--web.listen-address=" + a.address, "--cluster.listen-address=" + gossip, "--cluster.peer-timeout=300ms"}, more...)
	return a
}

// up starts it, for the first time or again.
func (a *alertmanager) up(t *testing.T) {
	t.Helper()
	a.server = start(t, "prometheus-alertmanager", "prometheus-alertmanager", a.args...)
	eventually(t, "the Alertmanager is there", func() bool {
		res, err := http.Get("http://" + a.address + "/-/ready")
		if err != nil {
			return false
		}
		res.Body.Close()
		return res.StatusCode == http.StatusOK
	})
}

// held are the labels of the alerts it holds as firing, in the order of their names.
func (a *alertmanager) held(t *testing.T) []map[string]string {
	t.Helper()
	res, err := http.Get("http://" + a.address + "/api/v2/alerts")
	require.NoError(t, err)
	defer res.Body.Close()
	var list []struct {
		Labels           map[string]string
		EndsAt, StartsAt time.Time
	}
	require.NoError(t, json.NewDecoder(res.Body).Decode(&list))
	out := []map[string]string{}
	for _, x := range list {
		if x.EndsAt.After(time.Now()) {
			out = append(out, x.Labels)
		}
	}
	return out
}

func (a *alertmanager) names(t *testing.T) []string {
	t.Helper()
	out := []string{}
	for _, labels := range a.held(t) {
		out = append(out, labels["alertname"]+" "+labels["mold"])
	}
	return out
}

// mailServer is Debian's aiosmtpd: the list of what it took is its own.
type mailServer struct {
	*server
	port, dir string
	args      []string
}

func startMail(t *testing.T, args ...string) *mailServer {
	t.Helper()
	m := &mailServer{port: freePort(t), dir: filepath.Join(t.TempDir(), "mail"), args: args}
	m.up(t)
	return m
}

// up starts it, for the first time or again.
func (m *mailServer) up(t *testing.T) {
	t.Helper()
	args := append([]string{filepath.Join("testdata", "mailserver.py"), m.port, m.dir}, m.args...)
	m.server = start(t, "/usr/bin/python3", "python3-aiosmtpd", args...)
	m.says("(?m)^ready$")
}

// letter is a message that a mail server took.
type letter struct {
	mail.Header
	text string
}

// took are the messages it took, in the order of their subjects.
func (m *mailServer) took(t *testing.T) []letter {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(m.dir, "new", "*"))
	require.NoError(t, err)
	var out []letter
	for _, f := range files {
		raw, err := os.Open(f)
		require.NoError(t, err)
		defer raw.Close()
		read, err := mail.ReadMessage(raw)
		require.NoError(t, err)
		var body io.Reader = read.Body
		if read.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
			body = quotedprintable.NewReader(body)
		}
		text, err := io.ReadAll(body)
		require.NoError(t, err)
		out = append(out, letter{read.Header, strings.ReplaceAll(string(text), "\r\n", "\n")})
	}
	slices.SortFunc(out, func(a, b letter) int { return strings.Compare(a.Get("Subject"), b.Get("Subject")) })
	return out
}

func (m *mailServer) subjects(t *testing.T) []string {
	t.Helper()
	out := []string{}
	for _, l := range m.took(t) {
		out = append(out, l.Get("Subject"))
	}
	return out
}
