package page

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"strings"
)

// onlyOwnHosts refuses requests for a host that is none of the page's own. Another site can let a name of
// its own point at the shop's address once its page is open (DNS rebinding): to the browser that page and
// this one are then of one origin, and no check of origins tells them apart. The Host header does.
func (s *site) onlyOwnHosts(next http.Handler) http.Handler {
	own := map[string]bool{}
	for _, host := range s.opts.Hosts {
		own[hostName(host)] = true
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := hostName(r.Host)
		if name != "" && (own[name] || isLoopbackName(name) || isAddress(name)) {
			next.ServeHTTP(w, r)
			return
		}
		s.misdirected(w, r)
	})
}

// hostName is the name or address in a Host header: without port and brackets, in small letters.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	} else if inner, ok := strings.CutPrefix(host, "["); ok {
		host = strings.TrimSuffix(inner, "]")
	}
	return strings.ToLower(strings.TrimSuffix(host, "."))
}

// isLoopbackName reports whether a name always means the machine itself (RFC 6761 section 6.3).
func isLoopbackName(name string) bool {
	return name == "localhost" || strings.HasSuffix(name, ".localhost")
}

// isAddress reports whether a host is no name but an IP address: that cannot be made to point elsewhere.
func isAddress(name string) bool {
	_, err := netip.ParseAddr(name)
	return err == nil
}

// misdirected answers a request for a foreign host with a sentence and nothing of the shop.
func (s *site) misdirected(w http.ResponseWriter, r *http.Request) {
	s.opts.Log.Warn("request for a foreign host refused", "host", r.Host, "path", loggable(r))
	refusal := fmt.Sprintf("This shop does not answer to the name %q. Open it by its IP address, or let the daemon know this name as one of its hosts.", hostName(r.Host))
	if wantsJSON(r) {
		writeJSON(w, http.StatusMisdirectedRequest, map[string]string{"error": refusal})
		return
	}
	http.Error(w, refusal, http.StatusMisdirectedRequest)
}
