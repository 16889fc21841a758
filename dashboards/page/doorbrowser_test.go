package page

import (
	"errors"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// turnstile is a door that lets in by a cookie of the strictest kind, as browsers alone can judge it.
type turnstile struct{ porter }

func (turnstile) in(r *http.Request) bool {
	c, err := r.Cookie("pourward")
	return err == nil && c.Value == "in"
}

func (d turnstile) Guard(next http.Handler, refuse Refuse) http.Handler {
	shut := porter{}.Guard(next, func(w http.ResponseWriter, r *http.Request, _ int, _ string) {
		http.Redirect(w, r, LoginPath+"?back="+r.URL.Path, http.StatusSeeOther)
	})
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if d.in(r) {
			next.ServeHTTP(w, r)
			return
		}
		shut.ServeHTTP(w, r)
	})
}

func (d turnstile) Visitor(r *http.Request) Visitor {
	if d.in(r) {
		return Visitor{Name: "anna", Marks: true}
	}
	return Visitor{}
}

func (turnstile) LogIn(w http.ResponseWriter, _ *http.Request, user, password string) error {
	if user != "anna" || password != "right" {
		return errors.New("the name or the password is not right")
	}
	http.SetCookie(w, &http.Cookie{Name: "pourward", Value: "in", Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	return nil
}

// On a phone, over plain HTTP and without a script of its own, a maker logs in by the keyboard, marks, and
// makes a link, which shows the one mold to a browser that has only that.
func TestTheDoorInABrowser(t *testing.T) {
	o, k, links := cannedOptions(annex()), &keeper{}, &drawer{}
	o.Record, o.Door, o.Links = k.record, turnstile{}, links
	server := serveShop(t, "127.0.0.1:0", o)
	b := openBrowser(t)
	b.screen(narrowest, phoneHigh, "light")
	then := func(key string) string {
		b.events = nil
		b.press(key)
		b.await("Page.loadEventFired")
		return at(b)
	}

	b.open(server.URL + "/molds/rosette")
	require.Equal(t, "/login", at(b))
	b.tabTo("user")
	b.tell("Input.insertText", params{"text": "anna"})
	b.press("Tab")
	require.Equal(t, "password", b.focused())
	b.tell("Input.insertText", params{"text": "right"})
	require.Equal(t, "/molds/rosette", then("Enter"))
	b.tabTo("Make a link to this mold")
	b.press("Enter")
	b.tabTo("Make the link")
	require.Equal(t, "/links", then("Enter"))
	require.Len(t, links.links, 1)
	require.Equal(t, 7*24*time.Hour, links.links[0].Until.Sub(thursday()))
	var address string
	b.evaluate(&address, `document.getElementById("address").value`)

	b.open("about:blank") // a page that is open would go on asking for news
	b.tell("Network.clearBrowserCookies", nil)
	b.open(address)
	require.Equal(t, LinkPath(backwards("rosette")), at(b))
	b.evaluate(nil, `fetch(document.body.dataset.at).then((a) => { if (!a.ok) throw a.status; })`)
	b.open(server.URL + "/molds/rosette")
	require.Equal(t, "/login", at(b), "the link let nobody in")
	require.Empty(t, b.wrong, "what the browser found wrong")
}

// at is the path of the page that is shown; nothing of it sticks out of the screen.
func at(b *browser) string {
	b.t.Helper()
	var page struct {
		Path string
		Wide bool
	}
	b.evaluate(&page, `({ path: location.pathname, wide: document.documentElement.scrollWidth > document.documentElement.clientWidth })`)
	require.False(b.t, page.Wide, page.Path)
	return page.Path
}
