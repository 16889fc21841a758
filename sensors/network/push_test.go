package network

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/sensors"
)

const (
	sharedToken = "shared-token-0123456789"
	benchToken  = "bench-token-0123456789"
)

// pushOptions describe two probes, the second with a trusted time, and a shared token.
func pushOptions() PushOptions {
	return PushOptions{Token: sharedToken, Clock: newHandClock(), Probes: []PushProbe{
		{Name: "bench", Token: benchToken, TempUnit: Celsius},
		{Name: "shelf", TempUnit: Celsius, TrustTime: true},
	}}
}

func newPush(t testing.TB, o PushOptions) *Push {
	t.Helper()
	p, err := NewPush(o)
	require.NoError(t, err)
	return p
}

// post sends a request and returns status and answer.
func post(p *Push, token, body string) (int, string) {
	r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(body))
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	w := httptest.NewRecorder()
	p.serve(w, r)
	return w.Code, strings.TrimSpace(w.Body.String())
}

// pushing is a request with the shared token.
func pushing(body string) *http.Request {
	r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(body))
	r.Header.Set("Authorization", "Bearer "+sharedToken)
	return r
}

// serve answers a request, with a shop loop that gives receipts and leaves the readings where they are.
func (p *Push) serve(w http.ResponseWriter, r *http.Request) {
	before, done := len(p.queue), make(chan struct{})
	go func() {
		defer close(done)
		p.ServeHTTP(w, r)
	}()
	queued := func() int {
		p.mu.Lock()
		defer p.mu.Unlock()
		return len(p.queue)
	}
	for queued() == before {
		select {
		case <-done:
			return
		default:
			runtime.Gosched()
		}
	}
	for range queued() {
		select {
		case r := <-p.queue:
			if r.Receipt != nil {
				r.Receipt.Settle(nil)
			} else {
				p.queue <- r
			}
		default: // the source is running
		}
	}
	<-done
}

// queued returns the readings that wait.
func (p *Push) waiting() []sensors.Reading {
	var out []sensors.Reading
	for len(p.queue) > 0 {
		out = append(out, <-p.queue)
	}
	return out
}

func TestRequests(t *testing.T) {
	for _, row := range table(t, "testdata/requests.csv") {
		p := newPush(t, pushOptions())
		status, said := post(p, sharedToken, row["body"])
		require.Equal(t, number(t, row["status"]), float64(status), "%v: %s", row, said)
		require.Contains(t, said, row["says"], row)
		require.Equal(t, 1, len(strings.Split(said, "\n")), "one sentence")
		for _, r := range p.waiting() {
			if r.Err != nil {
				require.NotEqual(t, 202, status)
				continue
			}
			require.Equal(t, 202, status)
			require.Equal(t, noon, r.At)
			for m, want := range map[sensors.Measure]string{r.Temp: row["temp_c"], r.Humidity: row["humidity"]} {
				require.Equal(t, want != "", m.OK(), row)
				if want != "" {
					require.InDelta(t, number(t, want), m.Value, 0.0005, row)
				}
			}
		}
	}
}

func TestWhoMayPush(t *testing.T) {
	o := pushOptions()
	o.Token = "" // each its own
	o.Probes[1].Token = "sha256:" + hex.EncodeToString(hashOf("shelf-token-0123456789"))
	own := newPush(t, o)
	shared := newPush(t, pushOptions())
	bench, shelf := `{"probe": "bench", "temperature": 20}`, `{"probe": "shelf", "temperature": 20, "at": "2026-01-14T12:00:00Z"}`
	for _, c := range []struct {
		p           *Push
		token, body string
		want        int
	}{
		{own, benchToken, bench, 202},
		{own, "shelf-token-0123456789", shelf, 202},
		{own, benchToken, shelf, 403},
		{own, benchToken, `{"probe": "door", "temperature": 20}`, 403}, // as if it were somebody else's
		{own, benchToken, "[" + bench + "," + shelf + "]", 403},
		{own, sharedToken, bench, 401},
		{own, "", bench, 401},
		{own, o.Probes[1].Token, shelf, 401}, // the hash is not the token
		{shared, sharedToken, bench, 202},
		{shared, benchToken, bench, 202},
		{shared, benchToken, shelf, 403},
		{shared, sharedToken, `{"probe": "door", "temperature": 20}`, 422},
		{shared, sharedToken[:len(sharedToken)-1], bench, 401},
	} {
		status, said := post(c.p, c.token, c.body)
		require.Equal(t, c.want, status, "%s %s: %s", c.token, c.body, said)
	}
	require.Len(t, own.waiting(), 2, "nothing of a request that is refused")
}

// The header is as RFC 6750, 2.1 has it; the scheme's name is case-insensitive (RFC 9110, 11.1).
func TestHowATokenIsShown(t *testing.T) {
	want, err := newToken("mF_9.B5f-4.1JqMx")
	require.NoError(t, err)
	for header, ok := range map[string]bool{"Bearer mF_9.B5f-4.1JqMx": true, "bearer mF_9.B5f-4.1JqMx": true, "Basic mF_9.B5f-4.1JqMx": false,
		"Bearer": false, "Bearer ": false, "mF_9.B5f-4.1JqMx": false, "": false, "Bearer " + strings.Repeat("x", longestToken+1): false} {
		r := httptest.NewRequest(http.MethodPost, "/", nil)
		r.Header.Set("Authorization", header)
		got, err := shownToken(r)
		require.Equal(t, ok, err == nil && want.is(got), header)
	}
	p := newPush(t, pushOptions())
	w := httptest.NewRecorder()
	p.serve(w, httptest.NewRequest(http.MethodPost, "/", nil))
	require.Equal(t, "Bearer", w.Header().Get("WWW-Authenticate"), "RFC 6750, 3")
}

func hashOf(text string) []byte {
	t, _ := newToken(text)
	return t[:]
}

// FIPS 180-4's example for SHA-256: the hash of "abc".
func TestTokens(t *testing.T) {
	const abc = "sha256:ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	given, err := newToken(abc)
	require.NoError(t, err)
	r := httptest.NewRequest(http.MethodPost, "/", nil)
	r.Header.Set("Authorization", "Bearer abc")
	shown, err := shownToken(r)
	require.NoError(t, err)
	require.True(t, given.is(shown))
	require.False(t, (*token)(nil).is(shown), "no token is nobody's")
	for _, bad := range []string{"short", "with a space in it", abc[:20], "sha256:" + strings.Repeat("g", 64)} {
		_, err := newToken(bad)
		require.Error(t, err, bad)
		require.NotContains(t, err.Error(), bad)
	}
}

func TestTheSourceForgetsTokens(t *testing.T) {
	p := newPush(t, pushOptions())
	require.NotContains(t, fmt.Sprintf("%+v %+v %+v", p, p.probes["bench"], p.probes["shelf"]), "token-0123456789")
}

// A request that is sent again, since its answer was lost, is answered the same and taken once.
func TestIdempotence(t *testing.T) {
	p := newPush(t, pushOptions())
	one := `{"probe": "bench", "temperature": 20, "sequence": 7}`
	timed := `{"probe": "shelf", "temperature": 20, "at": "2026-01-14T11:59:00Z"}`
	for i, c := range []struct{ body, want string }{
		{one, `{"taken":1,"known":0}`},
		{one, `{"taken":0,"known":1}`},
		{timed, `{"taken":1,"known":0}`},
		{timed, `{"taken":0,"known":1}`},
		{"[" + one + "," + timed + `, {"probe": "bench", "temperature": 20, "sequence": 8}]`, `{"taken":1,"known":2}`},
		{`{"probe": "bench", "temperature": 20}`, `{"taken":1,"known":0}`},
		{`{"probe": "bench", "temperature": 20}`, `{"taken":1,"known":0}`},                  // nothing to know it by
		{`{"probe": "bench", "temperature": 20.5, "sequence": 7}`, `{"taken":1,"known":0}`}, // started anew
	} {
		status, said := post(p, sharedToken, c.body)
		require.Equal(t, 202, status, said)
		require.Equal(t, c.want, said, i)
	}
	require.Len(t, p.waiting(), 6)
}

// A batch of the largest size is known again as a whole.
func TestALargeBatchSentAgain(t *testing.T) {
	o := pushOptions()
	p := newPush(t, o)
	var parts []string
	for i := range MaxBatch {
		parts = append(parts, fmt.Sprintf(`{"probe": "shelf", "temperature": 20, "at": %q}`, noon.Add(time.Duration(i-MaxBatch)*time.Minute).Format(time.RFC3339)))
	}
	body := "[" + strings.Join(parts, ",") + "]"
	_, said := post(p, sharedToken, body)
	require.Equal(t, `{"taken":256,"known":0}`, said)
	_, said = post(p, sharedToken, body)
	require.Equal(t, `{"taken":0,"known":256}`, said)
	status, said := post(p, sharedToken, "["+strings.Join(append(parts, parts[0]), ",")+"]")
	require.Equal(t, 413, status, said)
}

// All readings of a request are taken, or none.
func TestABatchWithABadReading(t *testing.T) {
	p := newPush(t, pushOptions())
	for _, bad := range []string{
		`{"probe": "bench"}`,
		`{"probe": "shelf", "temperature": 20}`,
		`{"probe": "shelf", "temperature": 20, "at": "2026-01-14T12:02:00Z"}`,
		`{"probe": "shelf", "temperature": 20, "at": "2026-01-12T12:00:00Z"}`,
		`{"probe": "shelf", "temperature": 20, "at": "2026-01-14T11:30:00Z"}, {"probe": "shelf", "temperature": 20, "at": "2026-01-14T11:29:00Z"}`,
		`{"probe": "bench", "humidity": 0.4, "humidity_unit": "%"}`,
	} {
		before := *p.probes["shelf"]
		status, said := post(p, sharedToken, `[{"probe": "bench", "temperature": 20, "sequence": 1},`+bad+"]")
		require.Equal(t, 422, status, said)
		require.Regexp(t, "^reading [23], of probe", said)
		require.Equal(t, before, *p.probes["shelf"], "no trace is left")
		for _, r := range p.waiting() {
			require.Error(t, r.Err)
		}
	}
	_, said := post(p, sharedToken, `{"probe": "bench", "temperature": 20, "sequence": 1}`)
	require.Equal(t, `{"taken":1,"known":0}`, said)
}

func TestWhenTheQueueIsFull(t *testing.T) {
	o := pushOptions()
	o.Queue = MaxBatch + 1 // one is for the receipt
	p := newPush(t, o)
	body := func(from, n int) string {
		var parts []string
		for i := range n {
			parts = append(parts, fmt.Sprintf(`{"probe": "bench", "temperature": 20, "sequence": %d}`, from+i))
		}
		return "[" + strings.Join(parts, ",") + "]"
	}
	status, _ := post(p, sharedToken, body(0, MaxBatch-1))
	require.Equal(t, 202, status)
	r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(body(1000, 2)))
	r.Header.Set("Authorization", "Bearer "+sharedToken)
	w := httptest.NewRecorder()
	p.serve(w, r)
	require.Equal(t, 503, w.Code, w.Body.String())
	require.NotEmpty(t, w.Header().Get("Retry-After"))
	require.Len(t, p.queue, MaxBatch-1, "all or none")
	status, _ = post(p, sharedToken, body(2000, 1))
	require.Equal(t, 202, status)
	require.Len(t, p.waiting(), MaxBatch)
	status, said := post(p, sharedToken, body(1000, 2))
	require.Equal(t, 202, status)
	require.Equal(t, `{"taken":2,"known":0}`, said, "what was sent away is new")
	require.EqualValues(t, 1, counted(p.Refused(), "", Full))
}

func TestAfterTheSourceEnded(t *testing.T) {
	p := newPush(t, pushOptions())
	k := collect(t, p)
	status, _ := post(p, sharedToken, `{"probe": "bench", "temperature": 20}`)
	require.Equal(t, 202, status)
	soon(t, "the reading comes", func() bool { return len(k.good("bench")) == 1 })
	k.end()
	status, _ = post(p, sharedToken, `{"probe": "bench", "temperature": 20}`)
	require.Equal(t, 503, status)
}

func TestRequestsThatAreNone(t *testing.T) {
	p := newPush(t, pushOptions())
	w := httptest.NewRecorder()
	p.serve(w, httptest.NewRequest(http.MethodGet, "/", nil))
	require.Equal(t, 405, w.Code)
	require.Equal(t, "POST", w.Header().Get("Allow"))
	status, said := post(p, sharedToken, strings.Repeat(" ", MaxPayload+1))
	require.Equal(t, 413, status, said)
	status, said = post(p, sharedToken, `{"probe": "bench", "temperature": 20}`+strings.Repeat(" ", MaxPayload-38))
	require.Equal(t, 202, status, said)
}

func TestRequestsThatAreNotUTF8(t *testing.T) {
	p := newPush(t, pushOptions())
	for body, says := range map[string]string{
		"{\"probe\": \"b\xe9nch\", \"temperature\": 20}":     `"{\"probe\": \"b\xe9nch\", \"temperature\"" is not UTF-8 (byte 13 of the text, hexadecimal e9)`,
		`{"probe": "b\ud83dnch", "temperature": 20}`:         `\ud83d is half of a character`,
		"{\"probe\": \"bench\", \"note\xff\": 1}":            "is not UTF-8",
		"[{\"probe\": \"bench\", \"temperature\": 20}, \xff": "is not UTF-8",
	} {
		status, said := post(p, sharedToken, body)
		require.Equal(t, 400, status)
		require.True(t, strings.HasPrefix(said, "the request cannot be read: "), said)
		require.Contains(t, said, says)
	}
	require.Empty(t, p.waiting())
}

// Through a real server: a request that does not arrive whole is refused, one that is larger than it
// says as well, and others are served meanwhile.
func TestOverARealConnection(t *testing.T) {
	p := newPush(t, pushOptions())
	k := collect(t, p)
	server := httptest.NewServer(p)
	defer server.Close()
	slow, err := net.Dial("tcp", server.Listener.Addr().String())
	require.NoError(t, err)
	defer slow.Close()
	fmt.Fprintf(slow, "POST / HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer %s\r\nContent-Length: 100\r\n\r\n{", sharedToken)
	var done sync.WaitGroup
	for i := range 20 {
		done.Go(func() {
			request, _ := http.NewRequest(http.MethodPost, server.URL, bytes.NewBufferString(fmt.Sprintf(`{"probe": "bench", "temperature": 20, "sequence": %d}`, i/2)))
			request.Header.Set("Authorization", "Bearer "+sharedToken)
			answer, err := http.DefaultClient.Do(request)
			if err == nil {
				_, _ = io.Copy(io.Discard, answer.Body)
				_ = answer.Body.Close()
			}
		})
	}
	done.Wait()
	soon(t, "each reading comes once", func() bool { return len(k.good("bench")) == 10 })
	require.EqualValues(t, 10, counted(p.Refused(), "bench", Duplicate))
	require.NoError(t, slow.(*net.TCPConn).CloseWrite())
	soon(t, "the request cut off is refused", func() bool { return counted(p.Refused(), "", Malformed) == 1 })
	k.end()
}

func TestPushOptionsThatDoNotFit(t *testing.T) {
	for want, spoil := range map[string]func(*PushOptions){
		"no probe is given":                func(o *PushOptions) { o.Probes = nil },
		"no name":                          func(o *PushOptions) { o.Probes[0].Name = "" },
		"given twice":                      func(o *PushOptions) { o.Probes[1].Name = "bench" },
		"anyone could speak":               func(o *PushOptions) { o.Token = "" },
		"16 characters or more":            func(o *PushOptions) { o.Token = "short" },
		"must have room for more than 256": func(o *PushOptions) { o.Queue = 10 },
		"the unit is unknown":              func(o *PushOptions) { o.Probes[0].TempUnit = 9 },
		"cannot be negative":               func(o *PushOptions) { o.Probes[0].Oldest = -1 },
		"64 hexadecimal digits":            func(o *PushOptions) { o.Probes[0].Token = "sha256:00" },
	} {
		o := pushOptions()
		spoil(&o)
		_, err := NewPush(o)
		require.ErrorContains(t, err, want)
	}
}

// Whatever is sent in whatever order, a request that is sent again changes nothing, and what is answered
// with 202 is queued exactly once.
func TestPushProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		clock := newHandClock()
		o := pushOptions()
		o.Clock = clock
		p := newPush(t, o)
		taken := map[string]bool{}
		for range rapid.IntRange(1, 20).Draw(rt, "requests") {
			var parts []string
			fresh := 0
			for range rapid.IntRange(1, 4).Draw(rt, "readings") {
				body := fmt.Sprintf(`{"probe": "bench", "temperature": 20, "sequence": %d}`, rapid.IntRange(0, 15).Draw(rt, "sequence"))
				if !taken[body] {
					fresh++
				}
				taken[body] = true
				parts = append(parts, body)
			}
			status, said := post(p, benchToken, "["+strings.Join(parts, ",")+"]")
			require.Equal(rt, 202, status)
			require.Equal(rt, fmt.Sprintf(`{"taken":%d,"known":%d}`, fresh, len(parts)-fresh), said)
			require.Len(rt, p.waiting(), fresh)
			clock.add(time.Second)
		}
	})
}

func BenchmarkPush(b *testing.B) {
	p := newPush(b, pushOptions())
	k := collect(b, p)
	defer k.end()
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		w := httptest.NewRecorder()
		p.ServeHTTP(w, pushing(fmt.Sprintf(`{"probe": "bench", "temperature": 20, "sequence": %d}`, i)))
		if w.Code != http.StatusAccepted {
			b.Fatal(w.Body)
		}
	}
}
