package main

import (
	"bytes"
	"context"
	"errors"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/loop"
)

// rehearsal is a shop without a network, for a bubble of package synctest: there time passes only while
// every goroutine waits for time, and one that waits for a connection would hold it. A deaf listener and direct requests take the network's place.
type rehearsal struct {
	*loop.Loop
	pages http.Handler
	end   func() error // stops the shop as a signal would and returns what it ended with
}

// rehearse starts a shop in the bubble.
func rehearse(t *testing.T, o shopOptions) *rehearsal {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	s, err := openShop(ctx, o)
	require.NoError(t, err)
	done := make(chan error, 1)
	go func() { done <- s.run(ctx, newDeaf()) }()
	end := sync.OnceValue(func() error {
		stop()
		return errors.Join(<-done, s.close(ctx))
	})
	t.Cleanup(func() { _ = end() }) // a test that failed leaves nobody waiting in its bubble
	return &rehearsal{s.loop, s.pages, end}
}

// get asks for a page and returns its text.
func (r *rehearsal) get(t *testing.T, path string) string {
	t.Helper()
	w := httptest.NewRecorder()
	r.pages.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost"+path, nil))
	require.Equal(t, http.StatusOK, w.Code, path)
	return w.Body.String()
}

// within lets the bubble's time pass until something is so, and fails when it takes longer than d.
func within(t *testing.T, d time.Duration, what string, so func() bool) {
	t.Helper()
	for end := time.Now().Add(d); !so(); time.Sleep(100 * time.Millisecond) {
		require.True(t, time.Now().Before(end), "waited %v in vain until %s", d, what)
		synctest.Wait()
	}
}

// deaf is a listener whom nobody reaches.
type deaf struct {
	closed chan struct{}
	once   sync.Once
}

func newDeaf() *deaf { return &deaf{closed: make(chan struct{})} }

// Accept waits until the listener is closed.
func (d *deaf) Accept() (net.Conn, error) {
	<-d.closed
	return nil, net.ErrClosed
}

// Close ends Accept.
func (d *deaf) Close() error {
	d.once.Do(func() { close(d.closed) })
	return nil
}

// Addr is no address.
func (d *deaf) Addr() net.Addr { return &net.TCPAddr{} }

// notes is text that one goroutine writes and another reads.
type notes struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (n *notes) Write(p []byte) (int, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.text.Write(p)
}

func (n *notes) String() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.text.String()
}

func (n *notes) has(text string) bool { return strings.Contains(n.String(), text) }
