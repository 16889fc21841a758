package main

import (
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/cmd/pourward/internal/access"
)

// piped is a listener whose connections stay in the bubble of a test.
type piped struct {
	conns  chan net.Conn
	closed chan struct{}
	once   sync.Once
}

func newPiped() *piped { return &piped{conns: make(chan net.Conn), closed: make(chan struct{})} }

// Accept waits for a connection.
func (p *piped) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

// Close ends Accept.
func (p *piped) Close() error {
	p.once.Do(func() { close(p.closed) })
	return nil
}

// Addr is no address.
func (p *piped) Addr() net.Addr { return &net.TCPAddr{} }

func (p *piped) dial() net.Conn {
	here, there := net.Pipe()
	p.conns <- there
	return here
}

// Someone who sends slowly holds a connection for some seconds and no longer, and never more than there
// may be.
func TestSlowSenders(t *testing.T) {
	for name, c := range map[string]struct {
		begins string
		gone   time.Duration
	}{
		"says nothing":     {"", headerTimeout},
		"half a line":      {"GET / HT", headerTimeout},
		"header by header": {"GET / HTTP/1.1\r\nHost: localhost\r\nA: b\r\n", headerTimeout},
		"half a body":      {"POST /marks HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\nContent-Type: application/x-www-form-urlencoded\r\n\r\nkind=", requestTimeout},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				at, end := slowServer(t)
				conn := at.dial()
				begun := time.Now()
				go func() { _, _ = io.WriteString(conn, c.begins) }() // it may be cut off
				_, err := io.Copy(io.Discard, conn)
				require.NoError(t, err)
				require.InDelta(t, c.gone.Seconds(), time.Since(begun).Seconds(), 1)
				require.NoError(t, end())
			})
		})
	}
}

func TestConnectionsAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		at, end := slowServer(t)
		var held []net.Conn
		for range mostConns {
			held = append(held, at.dial())
		}
		synctest.Wait()
		next, there := net.Pipe()
		begun := time.Now()
		at.conns <- there // taken when one of the others is cut
		require.InDelta(t, headerTimeout.Seconds(), time.Since(begun).Seconds(), 1)
		for _, c := range append(held, next) {
			require.NoError(t, c.Close())
		}
		require.NoError(t, end())
	})
}

// slowServer serves a handler that reads what it is sent; end stops it.
func slowServer(t *testing.T) (at *piped, end func() error) {
	t.Helper()
	door, err := access.New(access.Options{})
	require.NoError(t, err)
	at = newPiped()
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	reads := http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body) // it is cut off
	})
	go func() { done <- serveHTTP(ctx, at, reads, door, slog.New(slog.DiscardHandler)) }()
	return at, func() error { stop(); return <-done }
}
