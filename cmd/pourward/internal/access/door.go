package access

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/dashboards/page"
)

// How often anyone may ask, and how often enter something. A page that is open asks four to twelve times a minute.
const (
	asksPerMinute    = 6000
	asksAtOnce       = 300
	entriesPerMinute = 60
	entriesAtOnce    = 60
)

// Options are what a [Door] needs.
type Options struct {
	Web   *Web             // nil: nobody is asked, whoever reaches the shop may mark
	Roles map[string]Role  // by user; Read where none is told
	Now   func() time.Time // the time that passes, not the shop's; nil = the system's
	Log   *slog.Logger     // nil = discarded
}

// Door lets visitors in. It implements [page.Door].
type Door struct {
	web      *Web
	roles    map[string]Role
	keys     *keyring // nil: nobody is asked
	sessions *sessions
	needs    needs
	asks     *limit // by address
	entries  *limit // by user or address
	log      *slog.Logger
}

var _ page.Door = (*Door)(nil)

// New returns a door, or an error that says what does not fit.
func New(o Options) (*Door, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	d := &Door{
		web: o.Web, roles: o.Roles, sessions: newSessions(o.Now), needs: newNeeds(Table()), log: o.Log,
		asks: newLimit(o.Now, asksPerMinute, asksAtOnce), entries: newLimit(o.Now, entriesPerMinute, entriesAtOnce),
	}
	if o.Web == nil {
		return d, nil
	}
	if len(o.Web.users) == 0 {
		return nil, fmt.Errorf("the web configuration names no users; write %s", webExample)
	}
	for name := range o.Roles {
		if _, known := o.Web.users[name]; !known {
			return nil, fmt.Errorf("access.roles: the web configuration has no user %q, only %s", name, strings.Join(o.Web.Users(), ", "))
		}
	}
	var err error
	d.keys, err = newKeyring(o.Web.users, o.Now)
	return d, err
}

// TLS is how to serve, nil for plain HTTP. A renewed certificate is taken without a restart.
func (d *Door) TLS() *tls.Config {
	if d.web == nil {
		return nil
	}
	return d.web.tls
}

// HTTP2 reports whether it may be spoken over TLS.
func (d *Door) HTTP2() bool { return d.web == nil || d.web.http2 }

type visitorKey struct{}

// Visitor implements [page.Door].
func (d *Door) Visitor(r *http.Request) page.Visitor {
	v, _ := r.Context().Value(visitorKey{}).(page.Visitor)
	return v
}

// Guard implements [page.Door]: it lets through what the table of needs allows.
func (d *Door) Guard(next http.Handler, refuse page.Refuse) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if d.web != nil {
			d.web.setHeaders(w.Header())
		}
		switch {
		case !proper(r):
			refuse(w, r, http.StatusNotFound, "There is nothing at this address.")
		case !d.asks.allow(addressOf(r)), d.web != nil && d.web.limit != nil && !d.web.limit.Allow():
			d.tooOften(w, r, refuse)
		default:
			d.let(w, r, next, refuse)
		}
	})
}

func (d *Door) tooOften(w http.ResponseWriter, r *http.Request, refuse page.Refuse) {
	w.Header().Set("Retry-After", strconv.Itoa(int(time.Minute.Seconds())))
	refuse(w, r, http.StatusTooManyRequests, "That was too much at once. Wait a minute, then try again.")
}

// let asks who comes and lets them through if they may.
func (d *Door) let(w http.ResponseWriter, r *http.Request, next http.Handler, refuse page.Refuse) {
	need := d.needs.of(r)
	if need == NeedNothing {
		next.ServeHTTP(w, r)
		return
	}
	v, err := d.who(r)
	switch {
	case errors.Is(err, page.ErrTooOften):
		d.tooOften(w, r, refuse)
		return
	case err != nil:
		d.ask(w, r, refuse)
		return
	case need == NeedMark && !v.Marks:
		d.log.Warn("refused: may look only", "user", v.Name, "method", r.Method, "from", addressOf(r))
		refuse(w, r, http.StatusForbidden, fmt.Sprintf("%s may look, but not mark. Log in as someone who may.", v.Name))
		return
	}
	key := v.Name
	if key == "" {
		key = addressOf(r)
	}
	if !reads(r) && !d.entries.allow(key) {
		d.tooOften(w, r, refuse)
		return
	}
	next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), visitorKey{}, v)))
}

func reads(r *http.Request) bool { return r.Method == http.MethodGet || r.Method == http.MethodHead }

// who finds out who comes, by session or by name and password.
func (d *Door) who(r *http.Request) (page.Visitor, error) {
	if d.keys == nil {
		return page.Visitor{Marks: true}, nil
	}
	if user, ok := d.sessions.find(secretOf(r)); ok {
		return d.visitor(user), nil
	}
	user, password, ok := r.BasicAuth()
	if !ok {
		return page.Visitor{}, errWrong
	}
	if err := d.check(r, user, password); err != nil {
		return page.Visitor{}, err
	}
	return d.visitor(user), nil
}

func (d *Door) visitor(user string) page.Visitor {
	return page.Visitor{Name: user, Marks: d.roles[user] == Mark}
}

// ask sends a browser that shows a page to the log-in, and asks everything else for name and password.
func (d *Door) ask(w http.ResponseWriter, r *http.Request, refuse page.Refuse) {
	browser := strings.Contains(r.Header.Get("Accept"), "text/html")
	_, _, tried := r.BasicAuth()
	switch {
	case browser && reads(r) && !tried:
		http.Redirect(w, r, page.LoginPath+"?"+url.Values{"back": {r.URL.RequestURI()}}.Encode(), http.StatusSeeOther)
		return
	case browser && !tried: // not 401: the browser would ask with a window of its own
		refuse(w, r, http.StatusForbidden, "You are not logged in, or no longer. Nothing was recorded: log in, then enter it again.")
		return
	}
	w.Header().Set("WWW-Authenticate", `Basic realm="pourward", charset="UTF-8"`) // RFC 7617
	refuse(w, r, http.StatusUnauthorized, "A name and its password are needed here.")
}

// check checks a password and logs a wrong one: without the name, unless it is a user's, as people type
// passwords into the wrong field.
func (d *Door) check(r *http.Request, user, password string) error {
	err := d.keys.check(addressOf(r), user, password)
	if err == nil {
		return nil
	}
	if !slices.Contains(d.web.Users(), user) {
		user = "not known"
	}
	d.log.Warn("log-in refused", "user", user, "from", addressOf(r), "error", err)
	return err
}

// LogIn implements [page.Door]. A session that was there before ends, so that nobody can plant one.
func (d *Door) LogIn(w http.ResponseWriter, r *http.Request, user, password string) error {
	if d.keys == nil {
		return nil
	}
	if err := d.check(r, user, password); err != nil {
		return err
	}
	d.sessions.end(secretOf(r), false)
	setCookie(w, r, d.sessions.begin(user), sessionFor)
	d.log.Info("logged in", "user", user, "from", addressOf(r))
	return nil
}

// LogOut implements [page.Door].
func (d *Door) LogOut(w http.ResponseWriter, r *http.Request, everywhere bool) {
	d.sessions.end(secretOf(r), everywhere)
	setCookie(w, r, "", 0)
}
