package page

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// toldAfter is the canned shop some time after its instant.
func toldAfter(after time.Duration) *model.Snapshot {
	snap := annex()
	snap.Outlook.At = snap.Outlook.At.Add(after)
	return snap
}

// listener reads a stream of news as it is sent.
type listener struct {
	header http.Header
	code   int

	mu   sync.Mutex
	sent strings.Builder
}

func (l *listener) Header() http.Header  { return l.header }
func (l *listener) WriteHeader(code int) { l.code = code }
func (l *listener) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.sent.Write(p)
}
func (l *listener) Flush() {}

// listen asks for news until ctx ends; the stream is closed when the answer has ended.
func listen(ctx context.Context, h http.Handler, seen string) (*listener, <-chan struct{}) {
	l, ended := &listener{header: http.Header{}, code: http.StatusOK}, make(chan struct{})
	r := httptest.NewRequestWithContext(ctx, http.MethodGet, "http://shop.test/news?"+url.Values{"seen": {seen}}.Encode(), nil)
	go func() {
		defer close(ended)
		h.ServeHTTP(l, r)
	}()
	return l, ended
}

// after lets time pass and returns what was sent meanwhile.
func (l *listener) after(d time.Duration) string {
	time.Sleep(d) // of the test's bubble
	synctest.Wait()
	l.mu.Lock()
	defer l.mu.Unlock()
	sent := l.sent.String()
	l.sent.Reset()
	return sent
}

const firstTiding, nextTiding = "event: news\nid: 2025-11-27T19:32:05+01:00\ndata: 2025-11-27T19:32:05+01:00\n\n",
	"event: news\nid: 2025-11-27T19:32:15+01:00\ndata: 2025-11-27T19:32:15+01:00\n\n"

// The form of the stream is that of the HTML standard, section 9.2.5: fields of a line each, an empty line
// after each event, comments after a colon.
func TestNewsAreTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var shown atomic.Pointer[model.Snapshot]
		shown.Store(toldAfter(0))
		o := cannedOptions(nil)
		o.Snapshot = shown.Load
		h := New(o)
		ctx, leave := context.WithCancel(t.Context())

		late, _ := listen(ctx, h, "2025-11-27T19:32:00+01:00")
		require.Equal(t, "retry: 3000\n\n"+firstTiding, late.after(0), "the page is older than the shop")
		l, ended := listen(ctx, h, "2025-11-27T19:32:05+01:00")
		require.Equal(t, "retry: 3000\n\n", l.after(0), "the page shows it already")
		require.Equal(t, "text/event-stream", l.header.Get("Content-Type"))
		require.Equal(t, "no-store", l.header.Get("Cache-Control"))
		require.Equal(t, "", l.after(14*time.Second))
		require.Equal(t, ": nothing new\n\n", l.after(time.Second))

		shown.Store(toldAfter(10 * time.Second))
		require.Equal(t, nextTiding, l.after(newsLook))
		shown.Store(toldAfter(11 * time.Second))
		require.Equal(t, "", l.after(newsApart-2*newsLook), "not all at once")
		shown.Store(toldAfter(12 * time.Second))
		require.Equal(t, 1, strings.Count(l.after(2*newsLook), "event: news"), "and then the newest only")

		leave()
		<-ended
	})
}

// The snapshot is nil until the shop has told something; news of the first one comes then.
func TestNewsOfTheFirstSnapshot(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var shown atomic.Pointer[model.Snapshot]
		o := cannedOptions(nil)
		o.Snapshot = shown.Load
		l, _ := listen(t.Context(), New(o), "")
		require.Equal(t, "retry: 3000\n\n", l.after(0))
		shown.Store(toldAfter(0))
		require.Equal(t, firstTiding, l.after(newsLook))
	})
}

func TestListenersAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := cannedOptions(annex())
		end := make(chan struct{})
		o.Ended = end
		h := New(o)
		var all []<-chan struct{}
		for range mostListeners {
			_, ended := listen(t.Context(), h, "")
			all = append(all, ended)
		}
		synctest.Wait()
		w := get(t, h, "/news")
		require.Equal(t, http.StatusServiceUnavailable, w.Code)
		require.Equal(t, "60", w.Header().Get("Retry-After"))
		require.Equal(t, http.StatusOK, get(t, h, "/").Code, "they still see the page")

		close(end) // the server is about to end
		for _, ended := range all {
			<-ended
		}
	})
}

// A listener is let go in time, so that the door sees it again.
func TestListeningDoesNotOutlastTheDoor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begun := time.Now()
		_, ended := listen(t.Context(), New(cannedOptions(annex())), "")
		<-ended
		require.Equal(t, newsLasts, time.Since(begun))
	})
}

// A real server bounds how long a request and its answer take. Those who listen outlast that.
func TestListeningOutlastsTheBoundsOfAServer(t *testing.T) {
	var shown atomic.Pointer[model.Snapshot]
	shown.Store(toldAfter(0))
	o := cannedOptions(nil)
	o.Snapshot = shown.Load
	server := httptest.NewUnstartedServer(New(o))
	server.Config.ReadTimeout, server.Config.WriteTimeout = 300*time.Millisecond, 300*time.Millisecond
	server.Start()
	defer server.Close()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+"/news", nil)
	require.NoError(t, err)
	r.Header.Set("Last-Event-ID", "2025-11-27T19:32:05+01:00")
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer func() { require.NoError(t, answer.Body.Close()) }()
	lines := bufio.NewReader(answer.Body)
	readLine := func() string {
		line, err := lines.ReadString('\n')
		require.NoError(t, err)
		return line
	}
	require.Equal(t, "retry: 3000\n", readLine())
	require.Equal(t, "\n", readLine())
	passed := time.AfterFunc(time.Second, func() { shown.Store(toldAfter(10 * time.Second)) })
	defer passed.Stop()
	require.Equal(t, "event: news\n", readLine())
	require.Equal(t, "id: 2025-11-27T19:32:15+01:00\n", readLine())
	require.Equal(t, "data: 2025-11-27T19:32:15+01:00\n", readLine())
}

// One who is gone is let go when the next words do not leave.
func TestOneWhoIsGoneIsLetGo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		gone := &deaf{header: http.Header{}}
		begun := time.Now()
		New(cannedOptions(annex())).ServeHTTP(gone, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "http://shop.test/news?seen=2025-11-27T19:32:05%2B01:00", nil))
		require.Equal(t, newsBeat, time.Since(begun))
	})
}

// deaf takes the first words and no more.
type deaf struct {
	header http.Header
	writes int
}

func (d *deaf) Header() http.Header { return d.header }
func (d *deaf) WriteHeader(int)     {}
func (d *deaf) Flush()              {}
func (d *deaf) Write(p []byte) (int, error) {
	if d.writes++; d.writes > 1 {
		return 0, io.ErrClosedPipe
	}
	return len(p), nil
}
