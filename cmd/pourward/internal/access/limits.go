package access

import (
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// mostKeys bounds how many addresses or names one limit remembers.
const mostKeys = 4096

// limit is how often each of many may do something.
type limit struct {
	now   func() time.Time
	every rate.Limit
	burst int

	mu    sync.Mutex
	byKey map[string]*rate.Limiter
	rest  *rate.Limiter // shared by those there was no room for
	tidy  time.Time     // when room was last looked for
}

func newLimit(now func() time.Time, perMinute float64, burst int) *limit {
	every := rate.Limit(perMinute / 60)
	return &limit{now: now, every: every, burst: burst, byKey: map[string]*rate.Limiter{}, rest: rate.NewLimiter(every, burst)}
}

// allow reports whether key may do it now, and counts it.
func (l *limit) allow(key string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	of := l.byKey[key]
	if of == nil {
		of = l.admit(key, now)
	}
	return of.AllowN(now, 1)
}

// admit begins to count for key. Those who have done nothing lately are forgotten when room is short.
func (l *limit) admit(key string, now time.Time) *rate.Limiter {
	if len(l.byKey) >= mostKeys && now.Sub(l.tidy) >= time.Second {
		l.tidy = now
		for k, of := range l.byKey {
			if of.TokensAt(now) >= float64(l.burst) {
				delete(l.byKey, k)
			}
		}
	}
	if len(l.byKey) >= mostKeys {
		return l.rest
	}
	of := rate.NewLimiter(l.every, l.burst)
	l.byKey[key] = of
	return of
}

// addressOf is whom a request is counted for: its address, or the network that one host has of IPv6
// (RFC 6177, section 2: at least a /64 each). Headers that a proxy may set are not believed.
func addressOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if ip = ip.Unmap().WithZone(""); ip.Is6() && !ip.IsLoopback() {
		if net, err := ip.Prefix(64); err == nil {
			return net.String()
		}
	}
	return ip.String()
}
