package access

import (
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"pourward/dashboards/page"
)

// watch is a clock that a test sets.
type watch struct{ at time.Time }

func newWatch() *watch              { return &watch{time.Date(2026, 1, 15, 8, 0, 0, 0, time.UTC)} }
func (w *watch) now() time.Time     { return w.at }
func (w *watch) on(d time.Duration) { w.at = w.at.Add(d) }

func TestSessionsEnd(t *testing.T) {
	clock := newWatch()
	s := newSessions(clock.now)
	secret := s.begin("anna")
	raw, err := base64.RawURLEncoding.DecodeString(secret)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(raw)*8, 128, "OWASP Session Management: at least 64 bits; links ask for 128")
	for i := range 4 { // used within a week each time, it goes on
		clock.on(idleFor - time.Second)
		user, ok := s.find(secret)
		require.True(t, ok, i)
		require.Equal(t, "anna", user)
	}
	clock.on(sessionFor - 4*(idleFor-time.Second))
	_, ok := s.find(secret)
	require.False(t, ok, "after 30 days it is over, however often it was used")

	secret = s.begin("anna")
	clock.on(idleFor)
	_, ok = s.find(secret)
	require.False(t, ok, "a week unused")
	require.Empty(t, s.byHash, "what is over is forgotten")
}

func TestSessionsAreKeptByHash(t *testing.T) {
	s := newSessions(newWatch().now)
	secret := s.begin("anna")
	require.Contains(t, s.byHash, sha256.Sum256([]byte(secret)))
	for _, guess := range []string{"", secret + "A", secret[1:]} {
		_, ok := s.find(guess)
		require.False(t, ok)
	}
}

func TestSessionsOfOneUserAreBounded(t *testing.T) {
	clock := newWatch()
	s := newSessions(clock.now)
	other, first := s.begin("ben"), s.begin("anna")
	for range mostSessions {
		clock.on(time.Second)
		s.begin("anna")
	}
	require.Len(t, s.byHash, mostSessions+1)
	_, ok := s.find(first)
	require.False(t, ok, "the one unused for longest gave way")
	_, ok = s.find(other)
	require.True(t, ok, "another user's is not touched")
}

func TestEverySessionOfAUserCanBeEnded(t *testing.T) {
	s := newSessions(newWatch().now)
	phone, tablet, board, ben := s.begin("anna"), s.begin("anna"), s.begin("anna"), s.begin("ben")
	s.end(phone, false)
	alive := func(secret string) bool { _, ok := s.find(secret); return ok }
	require.Equal(t, []bool{false, true, true, true}, []bool{alive(phone), alive(tablet), alive(board), alive(ben)})
	s.end(phone, true)
	require.True(t, alive(tablet), "a session that is over ends no other")
	s.end(tablet, true)
	require.Equal(t, []bool{false, false, true}, []bool{alive(tablet), alive(board), alive(ben)})
}

// doorOf is a door with two users; anna may mark.
func doorOf(t *testing.T, clock *watch) *Door {
	t.Helper()
	w, err := webOf(t, `basic_auth_users: {anna: "`+hashOf("anna")+`", ben: "`+hashOf("ben")+`"}`)
	require.NoError(t, err)
	d, err := New(Options{Web: w, Roles: map[string]Role{"anna": Mark}, Now: clock.now})
	require.NoError(t, err)
	return d
}

// RFC 6265, sections 4.1.2.5 and 4.1.2.6, and RFC 6265bis for SameSite and the prefix.
func TestCookie(t *testing.T) {
	d := doorOf(t, newWatch())
	for scheme, name := range map[string]string{"http": "pourward", "https": "__Host-pourward"} {
		r := httptest.NewRequest(http.MethodPost, scheme+"://localhost/login", nil)
		w := httptest.NewRecorder()
		require.NoError(t, d.LogIn(w, r, "anna", "anna's password"))
		cookies := w.Result().Cookies()
		require.Len(t, cookies, 1)
		c := cookies[0]
		require.Equal(t, name, c.Name)
		require.True(t, c.HttpOnly)
		require.Equal(t, http.SameSiteStrictMode, c.SameSite)
		require.Equal(t, scheme == "https", c.Secure)
		require.Equal(t, "/", c.Path)
		require.Empty(t, c.Domain)

		again := httptest.NewRequest(http.MethodPost, scheme+"://localhost/login", nil)
		again.AddCookie(c)
		w2 := httptest.NewRecorder()
		require.NoError(t, d.LogIn(w2, again, "anna", "anna's password"))
		require.NotEqual(t, c.Value, w2.Result().Cookies()[0].Value, "a new log-in is a new session")
		_, ok := d.sessions.find(c.Value)
		require.False(t, ok, "and the one before is over")
	}
}

func TestWrongPasswords(t *testing.T) {
	clock := newWatch()
	d := doorOf(t, clock)
	r := httptest.NewRequest(http.MethodPost, "http://localhost/login", nil)
	try := func(user, password string) error { return d.LogIn(httptest.NewRecorder(), r, user, password) }
	unknown, wrong := try("carla", "anna's password"), try("anna", "ben's password")
	require.ErrorIs(t, unknown, errWrong)
	require.Equal(t, wrong, unknown, "the answer does not tell whether there is such a user")
	for range triesAtOnce - 2 {
		require.ErrorIs(t, try("anna", ""), errWrong)
	}
	require.ErrorIs(t, try("anna", "anna's password"), page.ErrTooOften, "the right one neither, after that many")
	require.ErrorIs(t, try("carla", "x"), page.ErrTooOften, "nor any other name from there")
	r.RemoteAddr = "198.51.100.9:1"
	require.NoError(t, try("anna", "anna's password"), "one address cannot keep a user out elsewhere")
	clock.on(time.Minute)
	require.NoError(t, try("ben", "ben's password"))
}

// Tries for one name are counted from everywhere, whether there is such a user or not.
func TestTriesForOneName(t *testing.T) {
	for _, user := range []string{"anna", "nobody"} {
		d := doorOf(t, newWatch())
		r := httptest.NewRequest(http.MethodPost, "http://localhost/login", nil)
		for range nameTriesAtOnce - 1 { // as from so many addresses
			require.True(t, d.keys.byName.allow(user))
		}
		require.ErrorIs(t, d.LogIn(httptest.NewRecorder(), r, user, "guess"), errWrong, user)
		r.RemoteAddr = "203.0.113.1:1"
		require.ErrorIs(t, d.LogIn(httptest.NewRecorder(), r, user, "guess"), page.ErrTooOften, user)
	}
}

// An unknown name takes as long as a wrong password. What the thread worked is compared, in turn and at its
// least, as the machine has other work; without the comparison it would be a thousandth.
func TestUnknownNamesTakeAsLong(t *testing.T) {
	clock := newWatch()
	d := doorOf(t, clock)
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	least := map[string]time.Duration{"anna": time.Hour, "carla": time.Hour}
	for range 5 {
		for user := range least {
			clock.on(time.Hour)
			begun := worked(t)
			require.ErrorIs(t, d.keys.check("192.0.2.1", user, "guess"), errWrong)
			least[user] = min(least[user], worked(t)-begun)
		}
	}
	require.InDelta(t, 1, least["carla"].Seconds()/least["anna"].Seconds(), 0.5, "%v", least)
}

// worked is the processor time of this thread.
func worked(t *testing.T) time.Duration {
	t.Helper()
	var use unix.Rusage
	require.NoError(t, unix.Getrusage(unix.RUSAGE_THREAD, &use))
	return time.Duration(use.Utime.Nano() + use.Stime.Nano())
}

func TestRightPasswordsAreComparedOnce(t *testing.T) {
	d := doorOf(t, newWatch())
	for range 3 * triesAtOnce { // a scrape is no try
		require.NoError(t, d.keys.check("192.0.2.1", "ben", "ben's password"))
	}
	require.ErrorIs(t, d.keys.check("192.0.2.1", "anna", "ben's password"), errWrong)
	require.ErrorIs(t, d.keys.check("192.0.2.1", "ben", "ben's passwor"), errWrong)
}

// Whatever somebody shows as a cookie or in a header: only what was given out, or a right password, lets in.
func FuzzSecrets(f *testing.F) {
	for _, s := range []string{
		"pourward=", "pourward=AAAA", "pourward=" + strings.Repeat("A", 43), "__Host-pourward=x; pourward=y", "pourward=\x00", "=;=;", strings.Repeat("pourward=a; ", 500),
		"Basic YW5uYTp4", "Basic !", "Basic " + strings.Repeat("QUFB", 400), "Bearer x", "basic YW5uYQ==", "Basic OnA=",
	} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, cookie, authorization string) {
		d := doorOf(t, newWatch())
		given := d.sessions.begin("anna")
		ask := doorstep(d)
		w := ask(http.MethodGet, "/", http.Header{"Cookie": {cookie}, "Authorization": {authorization}})
		require.Less(t, w.Code, 500)
		_, password, _ := (&http.Request{Header: http.Header{"Authorization": {authorization}}}).BasicAuth()
		if !strings.Contains(cookie, given) && !strings.HasSuffix(password, "'s password") {
			require.Empty(t, w.Header().Get("In"), "it let somebody in")
		}
		require.Equal(t, "anna", ask(http.MethodGet, "/", http.Header{"Cookie": {"pourward=" + given}}).Header().Get("In"))
	})
}
