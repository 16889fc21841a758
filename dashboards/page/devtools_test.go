package page

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"net"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// browser is a Chromium without a window, with one tab. It is told what to do through its DevTools protocol
// over a pair of pipes: JSON messages, each ended by a zero byte.
type browser struct {
	t       *testing.T
	to      *os.File
	from    *bufio.Reader
	said    *bytes.Buffer // on its standard error; to be read once it has ended
	session string        // of the tab
	last    int
	events  []event // come, and not waited for yet
	wrong   []string
}

// event is something the browser tells of its own accord.
type event struct {
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
}

// patience is how long the browser may take for everything asked of it.
const patience = 3 * time.Minute

// openBrowser starts Chromium. It is required: without it nothing outside this project judges the page.
func openBrowser(t *testing.T) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	require.NoError(t, err, "chromium is missing: install Debian's chromium package, which brings it")
	toChild, to, err := os.Pipe()
	require.NoError(t, err)
	from, fromChild, err := os.Pipe()
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	cmd := exec.CommandContext(ctx, path, "--headless", "--remote-debugging-pipe", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
		"--disable-breakpad", "--disable-extensions", "--disable-component-update", "--disable-background-networking", "--disable-sync",
		"--no-first-run", "--no-proxy-server", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1", "--user-data-dir="+t.TempDir(), "about:blank")
	cmd.ExtraFiles = []*os.File{toChild, fromChild} // descriptors 3 and 4
	b := &browser{t: t, to: to, from: bufio.NewReader(from), said: &bytes.Buffer{}}
	cmd.Stderr = b.said
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) } // its children too
	require.NoError(t, cmd.Start())
	require.NoError(t, toChild.Close())
	require.NoError(t, fromChild.Close())
	t.Cleanup(func() {
		cancel()
		_ = cmd.Wait() // it was killed; this waits until its children have let go of the standard error
		_ = to.Close()
		_ = from.Close()
	})
	b.openTab()
	return b
}

// shop is the canned shop on a real server.
type shop struct {
	URL   string
	close func()
}

// serveShop serves at an address until it is closed, or the test ends.
func serveShop(t *testing.T, address string, o Options) shop {
	t.Helper()
	at, err := net.Listen("tcp", address)
	require.NoError(t, err)
	end := make(chan struct{})
	o.Ended = end
	server := httptest.NewUnstartedServer(New(o))
	require.NoError(t, server.Listener.Close())
	server.Listener = at
	server.Start()
	s := shop{server.URL, sync.OnceFunc(func() {
		close(end)
		server.CloseClientConnections()
		server.Close()
	})}
	t.Cleanup(s.close)
	return s
}

func (b *browser) openTab() {
	b.t.Helper()
	var target struct{ TargetID string }
	b.ask(&target, "Target.createTarget", params{"url": "about:blank"})
	var attached struct{ SessionID string }
	b.ask(&attached, "Target.attachToTarget", params{"targetId": target.TargetID, "flatten": true})
	b.session = attached.SessionID
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		b.tell(domain+".enable", nil)
	}
}

type params map[string]any

// tell gives a command and waits until it is done.
func (b *browser) tell(method string, p params) {
	b.t.Helper()
	b.ask(nil, method, p)
}

// ask gives a command and reads its result.
func (b *browser) ask(result any, method string, p params) {
	b.t.Helper()
	b.last++
	message := map[string]any{"id": b.last, "method": method, "params": p}
	if p == nil {
		message["params"] = params{}
	}
	if b.session != "" {
		message["sessionId"] = b.session
	}
	data, err := json.Marshal(message)
	require.NoError(b.t, err)
	_, err = b.to.Write(append(data, 0))
	require.NoError(b.t, err, "the browser takes no more commands, at %s", method)
	for {
		id, body := b.next(method)
		if id != b.last {
			continue
		}
		if result != nil {
			require.NoError(b.t, json.Unmarshal(body, result), method)
		}
		return
	}
}

// next reads one message: the answer with its number, or 0 after an event, which is kept.
func (b *browser) next(doing string) (id int, result json.RawMessage) {
	b.t.Helper()
	data, err := b.from.ReadBytes(0)
	require.NoError(b.t, err, "the browser ended, or took longer than %v, at %s", patience, doing)
	var m struct {
		event
		ID     int
		Result json.RawMessage
		Error  *struct{ Message string }
	}
	require.NoError(b.t, json.Unmarshal(bytes.TrimSuffix(data, []byte{0}), &m))
	if m.Error != nil {
		require.Empty(b.t, m.Error.Message, doing)
	}
	if m.Method != "" {
		b.events = append(b.events, m.event)
		b.note(m.event)
	}
	return m.ID, m.Result
}

// note keeps what the browser finds wrong with a page: errors on its console, scripts that fail, what the
// page's own policy forbids, files that are not there.
func (b *browser) note(e event) {
	var p struct {
		Type             string
		Args             []struct{ Value any }
		ExceptionDetails struct {
			Text      string
			Exception struct{ Description string }
		}
		Entry struct{ Level, Text, URL string }
	}
	if json.Unmarshal(e.Params, &p) != nil {
		return
	}
	switch {
	case strings.HasPrefix(p.Entry.Text, "Error while trying to use the following icon from the Manifest"):
		// It fetches icons at its leisure, and a page that is left cuts that short. Whether they are sound is
		// asked where the page is installed.
	case e.Method == "Runtime.consoleAPICalled" && p.Type == "error":
		text, _ := json.Marshal(p.Args)
		b.wrong = append(b.wrong, string(text))
	case e.Method == "Runtime.exceptionThrown":
		b.wrong = append(b.wrong, p.ExceptionDetails.Text+" "+p.ExceptionDetails.Exception.Description)
	case e.Method == "Log.entryAdded" && (p.Entry.Level == "error" || p.Entry.Level == "warning"):
		b.wrong = append(b.wrong, p.Entry.Text+" "+p.Entry.URL)
	}
}

// await waits for an event that comes after the last one waited for.
func (b *browser) await(method string) {
	b.t.Helper()
	for {
		for i, e := range b.events {
			if e.Method == method {
				b.events = b.events[i+1:]
				return
			}
		}
		b.events = nil
		b.next("wait for " + method)
	}
}

// open goes to an address and waits until the page is there.
func (b *browser) open(address string) {
	b.t.Helper()
	b.events = nil
	var answer struct{ ErrorText string }
	b.ask(&answer, "Page.navigate", params{"url": address})
	require.Empty(b.t, answer.ErrorText, address)
	b.await("Page.loadEventFired")
}

// screen makes the tab a phone's, or a wider one, in a color scheme; nothing on it moves.
func (b *browser) screen(wide, high int, scheme string) {
	b.t.Helper()
	b.tell("Emulation.setDeviceMetricsOverride", params{"width": wide, "height": high, "deviceScaleFactor": 1, "mobile": true})
	b.tell("Emulation.setEmulatedMedia", params{"features": []params{{"name": "prefers-color-scheme", "value": scheme}, {"name": "prefers-reduced-motion", "value": "reduce"}}})
}

// evaluate reads the value of an expression on the page; a promise is waited for.
func (b *browser) evaluate(result any, expression string) {
	b.t.Helper()
	var answer struct {
		Result           struct{ Value json.RawMessage }
		ExceptionDetails *struct{ Text string }
	}
	b.ask(&answer, "Runtime.evaluate", params{"expression": expression, "returnByValue": true, "awaitPromise": true})
	require.Nil(b.t, answer.ExceptionDetails, expression)
	if result != nil {
		require.NoError(b.t, json.Unmarshal(answer.Result.Value, result), expression)
	}
}

// press presses a key and lets go of it.
func (b *browser) press(key string) {
	b.t.Helper()
	down := map[string]params{
		"Tab":       {"windowsVirtualKeyCode": 9},
		"Enter":     {"windowsVirtualKeyCode": 13, "text": "\r"},
		" ":         {"windowsVirtualKeyCode": 32, "text": " "},
		"ArrowDown": {"windowsVirtualKeyCode": 40},
	}[key]
	require.NotNil(b.t, down, "a key the test knows")
	down["type"], down["key"] = "keyDown", key
	b.tell("Input.dispatchKeyEvent", down)
	b.tell("Input.dispatchKeyEvent", params{"type": "keyUp", "key": key, "windowsVirtualKeyCode": down["windowsVirtualKeyCode"]})
}

// focused describes what has the focus: its id, or what it says.
func (b *browser) focused() string {
	b.t.Helper()
	var what string
	b.evaluate(&what, `(document.activeElement.id || document.activeElement.textContent).trim()`)
	return what
}

// tabTo presses Tab until something has the focus, as a maker does who looks for it.
func (b *browser) tabTo(what string) {
	b.t.Helper()
	var passed []string
	for range 60 {
		b.press("Tab")
		at := b.focused()
		if at == what {
			return
		}
		passed = append(passed, at)
	}
	require.Fail(b.t, "not reached by the Tab key", "%q, only: %s", what, strings.Join(passed, " | "))
}
