package deliver

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts"
)

// ailment is how a receiver fails. What it does to a connection is written for HTTP and for SMTP.
type ailment struct {
	dial   func(context.Context) error // why it is not reached; nil: it is
	http   string                      // its answer to every request
	smtp   map[string]string           // its answers by command, in place of the right ones; "" is the greeting
	resets bool                        // it resets the connection after that answer; else it says nothing more
	says   map[Channel]string          // part of the error that is told
}

// everyone gives all channels the same words.
func everyone(says string) map[Channel]string {
	return map[Channel]string{ByAlertmanager: says, ByWebhook: says, ByMail: says}
}

func web(says, mail string) map[Channel]string {
	return map[Channel]string{ByAlertmanager: says, ByWebhook: says, ByMail: mail}
}

func ailments() map[string]ailment {
	status := func(line string) string { return "HTTP/1.1 " + line + "\r\nContent-Length: 0\r\n\r\n" }
	fails := func(err error) func(context.Context) error { return func(context.Context) error { return err } }
	return map[string]ailment{
		"nobody listens": {dial: fails(&net.OpError{Op: "dial", Err: syscall.ECONNREFUSED}), says: everyone("connection refused")},
		"no way there":   {dial: fails(&net.OpError{Op: "dial", Err: syscall.ENETUNREACH}), says: everyone("network is unreachable")},
		"no such name":   {dial: fails(&net.DNSError{Err: "no such host", Name: "far.invalid", IsNotFound: true}), says: everyone("no such host")},
		"name server silent": {dial: func(ctx context.Context) error { // as a [net.Dialer] does it
			within, cancel := context.WithTimeout(ctx, attemptTime/2)
			defer cancel()
			<-within.Done()
			return within.Err()
		}, says: everyone("context deadline exceeded")},
		"never answers":   {says: web("context deadline exceeded", "i/o timeout")},
		"half an answer":  {http: "HTTP/1.1 20", smtp: map[string]string{"": "22"}, says: web("context deadline exceeded", "short response")},
		"cut off":         {http: "HTTP/1.1 200 OK\r\nContent-Length: 5", smtp: map[string]string{"MAIL": "25"}, resets: true, says: web("connection reset", "short response")},
		"half a body":     {http: "HTTP/1.1 500 No\r\nContent-Length: 100\r\n\r\nhalf", smtp: map[string]string{"DATA": "35"}, says: web("it answered 500", "short response")},
		"reset":           {resets: true, says: everyone("connection reset")},
		"no HTTP or SMTP": {http: "SSH-2.0-annex\r\n", smtp: map[string]string{"": "SSH-2.0-annex\r\n"}, says: web("malformed HTTP", "i/o timeout")},
		"refused as unknown": {http: status("401 Unauthorized"), smtp: map[string]string{"RCPT": "550 nobody of that name\r\n"},
			says: web("it answered 401", "nobody of that name")},
		"too many": {http: status("429 Too Many Requests"), smtp: map[string]string{"RCPT": "450 later\r\n"}, says: web("it answered 429", `450 "later"`)},
		"busy":     {http: status("503 Service Unavailable"), smtp: map[string]string{"": "421 busy\r\n"}, says: web("it answered 503", "busy")},
		"broken":   {http: status("500 Internal Server Error"), smtp: map[string]string{".": "451 disk full\r\n"}, says: web("it answered 500", `451 "disk full"`)},
		"sent on":  {http: status("302 Found\r\nLocation: http://far.invalid/"), smtp: map[string]string{"RCPT": "551 elsewhere\r\n"}, says: web("it answered 302", `551 "elsewhere"`)},
	}
}

// far is a receiver at the other end of connections in a bubble: an Alertmanager, a webhook or a mail server.
type far struct {
	*receiver // judges what came by HTTP

	mu    sync.Mutex // guards what follows
	ails  *ailment   // nil: it is sound
	tried []time.Time
	open  []net.Conn
	mails []string // that it took
}

// reset is a connection that is reset when the other end closes it.
type reset struct{ net.Conn }

// Read implements [net.Conn].
func (r reset) Read(p []byte) (int, error) {
	n, err := r.Conn.Read(p)
	if err == io.EOF {
		err = &net.OpError{Op: "read", Err: syscall.ECONNRESET}
	}
	return n, err
}

// dial connects to it, by a function that serves the connection.
func (f *far) dial(ctx context.Context, serve func(net.Conn)) (net.Conn, error) {
	if a := f.ailing(); a != nil && a.dial != nil {
		f.try()
		return nil, a.dial(ctx)
	}
	here, there := net.Pipe()
	f.mu.Lock()
	f.open = append(f.open, there)
	f.mu.Unlock()
	go serve(there)
	return reset{here}, nil
}

// set lets it ail, or be sound; connections that were open are lost.
func (f *far) set(a *ailment) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.ails = a
	for _, c := range f.open {
		c.Close()
	}
	f.open = nil
}

func (f *far) ailing() *ailment {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.ails
}

// try notes that it was tried.
func (f *far) try() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.tried = append(f.tried, time.Now())
}

// tries returns how long after each other it was tried.
func (f *far) tries() (gaps []time.Duration) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for i := range len(f.tried) - 1 {
		gaps = append(gaps, f.tried[i+1].Sub(f.tried[i]))
	}
	return gaps
}

// stop does what an ailing receiver does after its answer.
func (a *ailment) stop(c net.Conn) {
	if !a.resets {
		_, _ = io.Copy(io.Discard, c) // it hears, and says nothing more
	}
	c.Close()
}

func (f *far) serveHTTP(c net.Conn) {
	defer c.Close()
	for in := bufio.NewReader(c); ; {
		req, err := http.ReadRequest(in)
		if err != nil {
			return
		}
		body, err := io.ReadAll(req.Body)
		if err != nil {
			return
		}
		if a := f.ailing(); a != nil {
			f.try()
			_, _ = io.WriteString(c, a.http)
			if !strings.HasSuffix(a.http, "\r\n\r\n") {
				a.stop(c)
				return
			}
			continue
		}
		req.Body = io.NopCloser(bytes.NewReader(body))
		answer := httptest.NewRecorder()
		answer.Header().Set("Date", time.Now().UTC().Format(http.TimeFormat))
		answer.Header().Set("Content-Length", "0")
		f.ServeHTTP(answer, req)
		_ = answer.Result().Write(c) // it may be gone
	}
}

func (f *far) serveSMTP(c net.Conn) {
	defer c.Close()
	f.try()
	answers := map[string]string{"": "220 annex\r\n", "EHLO": "250 annex\r\n", "MAIL": "250 ok\r\n", "RCPT": "250 ok\r\n", "RSET": "250 ok\r\n",
		"DATA": "354 go on\r\n", ".": "250 taken\r\n", "QUIT": "221 bye\r\n"}
	in := bufio.NewReader(c)
	for command := ""; ; {
		a := f.ailing()
		said, ailing := answers[command], false
		if a != nil {
			if words, is := a.smtp[command]; is || a.smtp == nil {
				said, ailing = words, true
			}
		}
		_, _ = io.WriteString(c, said)
		if ailing && !strings.HasSuffix(said, "\r\n") || ailing && a.resets {
			a.stop(c)
			return
		}
		if command == "DATA" {
			text := ""
			for !strings.HasSuffix(text, "\r\n.\r\n") {
				line, err := in.ReadString('\n')
				if err != nil {
					return
				}
				text += line
			}
			if command = "."; f.ailing() == nil {
				f.mu.Lock()
				f.mails = append(f.mails, text)
				f.mu.Unlock()
			}
			continue
		}
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		command = strings.ToUpper(strings.Fields(line + " ?")[0])
	}
}

// courierTo is one that serves a far receiver.
func courierTo(t *testing.T, f *far, by Channel) *courier {
	t.Helper()
	byHTTP := func(client *http.Client) {
		client.Transport.(*http.Transport).DialContext = func(ctx context.Context, _, _ string) (net.Conn, error) { return f.dial(ctx, f.serveHTTP) }
	}
	var r rounds
	switch by {
	case ByAlertmanager:
		p := newPoster(Alertmanager{URL: "http://far.invalid"}, time.Now)
		byHTTP(p.client)
		r = &standing{p}
	case ByWebhook:
		c, err := newCaller(Webhook{URL: "http://far.invalid/hook"})
		require.NoError(t, err)
		byHTTP(c.client)
		r = &messages{c}
	case ByMail:
		m, err := newMailer(Mail{Host: "far.invalid", Port: 25, Encryption: Plaintext, From: "pourward@example.org", To: "maker@example.org"})
		require.NoError(t, err)
		m.dial = func(ctx context.Context, _, _ string) (net.Conn, error) { return f.dial(ctx, f.serveSMTP) }
		r = &messages{m}
	}
	return newCourier("far", by, r, slog.New(slog.DiscardHandler))
}

// knows reports whether the receiver knows that an alert stands, or that it has ended.
func (f *far) knows(by Channel, a alerts.Alert, stands bool) bool {
	f.receiver.mu.Lock()
	defer f.receiver.mu.Unlock()
	f.mu.Lock()
	defer f.mu.Unlock()
	switch by {
	case ByAlertmanager:
		for _, p := range f.held {
			if p.Labels["alertname"] == a.Name {
				return p.EndsAt.After(time.Now()) == stands
			}
		}
	case ByWebhook:
		for _, m := range f.inbox {
			told := m.Began
			if !stands {
				told = m.Ended
			}
			for _, x := range told {
				if x.Name == a.Name {
					return true
				}
			}
		}
	case ByMail:
		want := "ended: " + a.Summary
		if stands {
			want = a.Description
		}
		return strings.Contains(strings.Join(f.mails, "\n"), want)
	}
	return false
}

// For every receiver and every way to fail, for an hour: whoever tells is never held up, the other target hears
// at once, tries come ever more slowly and never in step, what waits stays bounded, the reason is told, and when it
// is over what stands is told within a try, and its end after that.
func TestEveryReceiverInEveryAilment(t *testing.T) {
	for name, a := range ailments() {
		for _, by := range []Channel{ByAlertmanager, ByWebhook, ByMail} {
			t.Run(fmt.Sprint(by, " ", name), func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) { ailingFor(t, a, by) })
			})
		}
	}
}

func ailingFor(t *testing.T, a ailment, by Channel) {
	f := &far{receiver: &receiver{seen: map[string]bool{}, held: map[string]posted{}}}
	near := &box{now: time.Now}
	o := Options{Shop: "Annex", Zone: time.UTC, Now: time.Now, Log: slog.New(slog.DiscardHandler)}
	d, err := open(t.Context(), o, []*courier{courierTo(t, f, by), newCourier("near", ByWebhook, &messages{near}, o.Log)})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	defer func() {
		cancel()
		require.ErrorIs(t, <-ended, context.Canceled)
		f.set(nil) // hangs up
		require.NoError(t, d.Close())
	}()

	f.set(&a)
	cold := d.firing("PourwardCold", "frieze", alerts.Warning)
	cold.Description = "It is 6 K too cold."
	for tick := range 360 { // every ten seconds; a second alert comes and goes
		told := time.Now()
		if tick%12 < 6 {
			d.tellNow(cold, d.firing("PourwardDamp", "frieze", alerts.Warning))
		} else {
			d.tellNow(cold)
		}
		require.Equal(t, told, time.Now(), "whoever tells is held up")
		require.Contains(t, near.titles()[0], "frieze: ", "the other target is told")
		require.Len(t, near.titles(), tick/6+1)
		time.Sleep(10 * time.Second)
	}
	h := d.Health()[0]
	require.Contains(t, h.Err, a.says[by])
	require.LessOrEqual(t, h.Waiting, 32, "what came and went waits once, with what stands")
	require.Positive(t, h.Waiting)
	requireBackingOff(t, f.tries(), int(h.Failed))

	f.set(nil)
	time.Sleep(slowestRetry*3/2 + attemptTime)
	synctest.Wait()
	require.True(t, f.knows(by, cold, true), "what stands is told")
	require.Empty(t, d.Health()[0].Err)
	d.tellNow()
	time.Sleep(time.Second)
	synctest.Wait()
	require.True(t, f.knows(by, cold, false), "its end is told")
}

// requireBackingOff judges the times between tries, at an ailment of an hour.
func requireBackingOff(t *testing.T, gaps []time.Duration, failed int) {
	t.Helper()
	require.Greater(t, failed, 30, "an hour has room for a try a minute and a half, and each may take 20 s")
	require.Less(t, failed, 150)
	late := gaps[len(gaps)/2:]
	different := map[time.Duration]bool{}
	for _, gap := range late {
		require.LessOrEqual(t, gap, slowestRetry*3/2+attemptTime)
		different[gap.Round(100*time.Millisecond)] = true
	}
	require.Greater(t, len(different), len(late)/4, "tries are not in step with anybody's: %v", late)
}
