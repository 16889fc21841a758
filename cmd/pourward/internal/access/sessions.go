package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"sync"
	"time"
)

const (
	idleFor      = 7 * 24 * time.Hour  // a session ends when it was not used for so long
	sessionFor   = 30 * 24 * time.Hour // and at the latest after this
	mostSessions = 32                  // of one user; the one unused for longest gives way
	secretBytes  = 24                  // of a session or a link: 192 random bits
)

// newSecret returns a secret to be given away and the hash to be kept. A plain hash is enough, as the
// secret cannot be guessed.
func newSecret() (secret string, hash [sha256.Size]byte) {
	raw := make([]byte, secretBytes)
	_, _ = rand.Read(raw) // never fails (package crypto/rand)
	secret = base64.RawURLEncoding.EncodeToString(raw)
	return secret, sha256.Sum256([]byte(secret))
}

// session is a user who logged in.
type session struct {
	user       string
	made, used time.Time
}

type sessions struct {
	now func() time.Time

	mu     sync.Mutex
	byHash map[[sha256.Size]byte]*session
}

func newSessions(now func() time.Time) *sessions {
	return &sessions{now: now, byHash: map[[sha256.Size]byte]*session{}}
}

// begin makes a session and returns its secret.
func (s *sessions) begin(user string) string {
	secret, hash := newSecret()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tidy(user)
	now := s.now()
	s.byHash[hash] = &session{user: user, made: now, used: now}
	return secret
}

// tidy forgets what has ended, and makes room for one more session of a user.
func (s *sessions) tidy(user string) {
	var oldest [sha256.Size]byte
	n := 0
	for hash, x := range s.byHash {
		switch {
		case s.over(x):
			delete(s.byHash, hash)
		case x.user == user:
			if n++; n == 1 || x.used.Before(s.byHash[oldest].used) {
				oldest = hash
			}
		}
	}
	if n >= mostSessions {
		delete(s.byHash, oldest)
	}
}

func (s *sessions) over(x *session) bool {
	now := s.now()
	return now.Sub(x.used) >= idleFor || now.Sub(x.made) >= sessionFor
}

// find returns whose session a secret is of, if it goes on.
func (s *sessions) find(secret string) (user string, ok bool) {
	hash := sha256.Sum256([]byte(secret))
	s.mu.Lock()
	defer s.mu.Unlock()
	x := s.byHash[hash]
	if x == nil {
		return "", false
	}
	if s.over(x) {
		delete(s.byHash, hash)
		return "", false
	}
	x.used = s.now()
	return x.user, true
}

// end ends a session, and all others of its user if everywhere is set.
func (s *sessions) end(secret string, everywhere bool) {
	own := sha256.Sum256([]byte(secret))
	s.mu.Lock()
	defer s.mu.Unlock()
	x := s.byHash[own]
	if x == nil {
		return
	}
	delete(s.byHash, own)
	for hash, other := range s.byHash {
		if everywhere && other.user == x.user {
			delete(s.byHash, hash)
		}
	}
}

// cookieName is that of the session's cookie. The prefix, which browsers allow under TLS only, keeps other
// names of the same domain from setting it (RFC 6265bis, section 4.1.3.2).
func cookieName(secure bool) string {
	if secure {
		return "__Host-pourward"
	}
	return "pourward"
}

func setCookie(w http.ResponseWriter, r *http.Request, secret string, age time.Duration) {
	secure := r.TLS != nil
	c := &http.Cookie{
		Name: cookieName(secure), Value: secret, Path: "/", MaxAge: int(age.Seconds()),
		HttpOnly: true, Secure: secure, SameSite: http.SameSiteStrictMode,
	}
	if age <= 0 {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
}

func secretOf(r *http.Request) string {
	c, err := r.Cookie(cookieName(r.TLS != nil))
	if err != nil {
		return ""
	}
	return c.Value
}
