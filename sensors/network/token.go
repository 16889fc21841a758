package network

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"strings"
)

// token is the hash of a secret (FIPS 180-4, SHA-256). A plain hash is enough, as tokens are long and
// chosen at random.
type token [sha256.Size]byte

const (
	hashPrefix    = "sha256:"
	shortestToken = 16
	longestToken  = 4096
)

// newToken returns the hash of a token that is given in clear, or as a hash already; nil for none.
func newToken(text string) (*token, error) {
	if text == "" {
		return nil, nil
	}
	if digits, isHash := strings.CutPrefix(text, hashPrefix); isHash {
		raw, err := hex.DecodeString(digits)
		if err != nil || len(raw) != sha256.Size {
			return nil, fmt.Errorf("after %s come 64 hexadecimal digits", hashPrefix)
		}
		t := token(raw)
		return &t, nil
	}
	if len(text) < shortestToken || len(text) > longestToken || strings.ContainsAny(text, " \t\r\n") {
		return nil, fmt.Errorf("a token has %d characters or more and no spaces; make one e.g. with: openssl rand -hex 24", shortestToken)
	}
	t := token(sha256.Sum256([]byte(text)))
	return &t, nil
}

// is reports whether two tokens are the same, in a time that does not tell how far they agree.
func (t *token) is(other *token) bool {
	return t != nil && subtle.ConstantTimeCompare(t[:], other[:]) == 1
}

var errNoToken = errors.New("send the token in a header: Authorization: Bearer TOKEN")

// shownToken returns the token that a request shows (RFC 6750, 2.1).
func shownToken(r *http.Request) (*token, error) {
	scheme, text, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	text = strings.TrimSpace(text)
	if !strings.EqualFold(scheme, "Bearer") || text == "" || len(text) > longestToken {
		return nil, errNoToken
	}
	t := token(sha256.Sum256([]byte(text)))
	return &t, nil
}

// knows reports whether a token may speak for any probe at all.
func (p *Push) knows(t *token) bool {
	known := p.shared.is(t)
	for _, to := range p.probes {
		known = to.token.is(t) || known // every one is compared
	}
	return known
}

// allowed returns the probe that a reading names. To someone who may not speak for all, a probe that
// does not exist looks like one that is somebody else's.
func (p *Push) allowed(t *token, name string) (*pusher, *refused) {
	to := p.probes[name]
	shared := p.shared.is(t)
	switch {
	case to != nil && (shared || to.token.is(t)):
		return to, nil
	case shared:
		return nil, refuse(Unknown, "no probe %.60q is set up here", name)
	}
	return nil, refuse(Unauthorized, "this token may not speak for probe %.60q", name)
}
