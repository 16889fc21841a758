package page

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// porter is a door that knows one visitor, or nobody.
type porter struct{ who Visitor }

func (p porter) Guard(next http.Handler, refuse Refuse) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		open := r.URL.Path == LoginPath || r.URL.Path == "/logout" || strings.HasPrefix(r.URL.Path, lookPath) || strings.HasPrefix(r.URL.Path, "/assets/")
		if p.who == (Visitor{}) && !open {
			refuse(w, r, http.StatusForbidden, "You are not logged in.")
			return
		}
		next.ServeHTTP(w, r)
	})
}
func (p porter) Visitor(*http.Request) Visitor { return p.who }
func (p porter) LogIn(_ http.ResponseWriter, _ *http.Request, user, password string) error {
	switch {
	case user == "hasty":
		return ErrTooOften
	case password != "right":
		return errors.New("the name or the password is not right")
	}
	return nil
}
func (p porter) LogOut(w http.ResponseWriter, _ *http.Request, everywhere bool) {
	w.Header().Set("Everywhere", fmt.Sprint(everywhere))
}

// drawer keeps links in memory; the token of each is its mold's name backwards.
type drawer struct{ links []Link }

func backwards(s string) string {
	var out []byte
	for i := len(s); i > 0; i-- {
		out = append(out, s[i-1])
	}
	return string(out)
}

func (d *drawer) Make(mold string, lasts time.Duration, by string) (Link, error) {
	if lasts < time.Minute {
		return Link{}, errors.New("a link lasts from a minute to 90 days")
	}
	l := Link{ID: fmt.Sprintf("%08d", len(d.links)), Mold: mold, By: by, Made: thursday(), Until: thursday().Add(lasts)}
	d.links = append(d.links, l)
	l.Token = backwards(mold)
	return l, nil
}

func (d *drawer) Of(mold string) []Link {
	var out []Link
	for _, l := range d.links {
		if mold == "" || l.Mold == mold {
			out = append(out, l)
		}
	}
	return out
}

func (d *drawer) Revoke(id string) (Link, error) {
	for i, l := range d.links {
		if l.ID == id {
			d.links = append(d.links[:i], d.links[i+1:]...)
			return l, nil
		}
	}
	return Link{}, errors.New("there is no such link")
}

func (d *drawer) Opens(token string) (string, bool) {
	for _, l := range d.links {
		if backwards(l.Mold) == token {
			return l.Mold, true
		}
	}
	return "", false
}

// guarded is the canned shop behind a door.
func guarded(who Visitor) (http.Handler, *drawer, *bytes.Buffer) {
	o, d, log := cannedOptions(annex()), &drawer{}, &bytes.Buffer{}
	o.Door, o.Links, o.Log = porter{who}, d, slog.New(slog.NewTextHandler(log, nil))
	return New(o), d, log
}

// doorPages are those at the door and behind a link.
func doorPages(t *testing.T) map[string]string {
	t.Helper()
	maker, _, _ := guarded(Visitor{Name: "anna", Marks: true})
	out := map[string]string{"made": post(t, maker, "/links", url.Values{"mold": {"rosette"}, "seconds": {"3600"}}, nil).Body.String()}
	out["rosette with a link"] = get(t, maker, "/molds/rosette").Body.String()
	out["shared"] = get(t, maker, LinkPath(backwards("rosette"))).Body.String()
	stranger, _, _ := guarded(Visitor{})
	out["log in"] = get(t, stranger, LoginPath).Body.String()
	out["not logged in"] = post(t, stranger, LoginPath, url.Values{"user": {"anna"}, "password": {"wrong"}}, nil).Body.String()
	out["turned away"] = get(t, stranger, "/").Body.String()
	looker, _, _ := guarded(Visitor{Name: "ben"})
	out["only looking"] = get(t, looker, "/").Body.String()
	return out
}

func TestLogIn(t *testing.T) {
	h, _, log := guarded(Visitor{})
	page := get(t, h, LoginPath+"?back=/molds/rosette").Body.String()
	require.Contains(t, page, `value="/molds/rosette"`)
	require.NotContains(t, page, "Museum annex", "nothing of the shop is told")
	require.Contains(t, get(t, h, LoginPath+"?back=//evil.test").Body.String(), `name="back" value="/"`)

	w := post(t, h, LoginPath, url.Values{"user": {"anna"}, "password": {"right"}, "back": {"/molds/rosette"}}, nil)
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/molds/rosette", w.Header().Get("Location"))

	w = post(t, h, LoginPath, url.Values{"user": {`"><script>`}, "password": {"my-secret"}, "back": {"/x\r\nSet-Cookie: a=b"}}, nil)
	require.Equal(t, http.StatusForbidden, w.Code)
	require.Empty(t, w.Header().Values("Set-Cookie"))
	require.Contains(t, w.Body.String(), "The name or the password is not right.")
	require.NotContains(t, w.Body.String(), "my-secret")
	require.NotContains(t, w.Body.String(), `"><script>`)
	require.Equal(t, http.StatusTooManyRequests, post(t, h, LoginPath, url.Values{"user": {"hasty"}}, nil).Code)
	require.Equal(t, "true", post(t, h, "/logout", url.Values{"everywhere": {"yes"}}, nil).Header().Get("Everywhere"))
	require.Equal(t, LoginPath, post(t, h, "/logout", nil, nil).Header().Get("Location"))
	require.NotContains(t, log.String(), "my-secret")
}

// To those nobody let in, no refusal tells anything of the shop.
func TestStrangersLearnNothing(t *testing.T) {
	h, _, _ := guarded(Visitor{})
	cross := http.Header{"Origin": {"https://evil.test"}}
	json := http.Header{"Content-Type": {"application/json"}}
	for name, w := range map[string]*httptest.ResponseRecorder{
		"turned away": get(t, h, "/molds/rosette"), "another site": post(t, h, "/marks", nil, cross),
		"no form": post(t, h, LoginPath, nil, json), "no link": get(t, h, "/look/abc"), "no asset": get(t, h, "/assets/x.css"),
		"too large": post(t, h, LoginPath, url.Values{"user": {strings.Repeat("x", maxBody)}}, nil),
	} {
		require.GreaterOrEqual(t, w.Code, 400, name)
		for _, told := range []string{"Museum annex", "Rosette", "rosette", `action="/unit"`, `href="/begin"`} {
			require.NotContains(t, w.Body.String(), told, name)
		}
		require.NotEmpty(t, w.Header().Get("Content-Security-Policy"), name)
	}
}

// Whoever may look only is offered nothing to enter.
func TestLookersSeeNoForms(t *testing.T) {
	h, d, _ := guarded(Visitor{Name: "ben"})
	_, err := d.Make("rosette", time.Hour, "anna")
	require.NoError(t, err)
	for _, path := range []string{"/", "/begin", "/molds/rosette", "/molds/volute", "/places/bench"} {
		page := get(t, h, path).Body.String()
		for _, e := range elements(t, page) {
			if e.name == "form" {
				require.Contains(t, []string{"/unit", "/logout"}, e.attrs["action"], path)
			}
		}
		require.NotContains(t, page, `href="/begin"`, path)
		require.Contains(t, plain(page), "Here as ben, to look only", path)
	}
}

// A link shows how its mold stands. No other mold, no mark, no way further, nothing to enter.
func TestSharedMold(t *testing.T) {
	snap := annex()
	h, d, log := guarded(Visitor{})
	for i := range snap.Outlook.Molds {
		m := &snap.Outlook.Molds[i]
		_, err := d.Make(m.Name, time.Hour, "")
		require.NoError(t, err)
		w := get(t, h, LinkPath(backwards(m.Name)))
		require.Equal(t, http.StatusOK, w.Code, m.Name)
		require.Equal(t, "no-referrer", w.Header().Get("Referrer-Policy"))
		require.Equal(t, "no-store", w.Header().Get("Cache-Control"))
		require.Contains(t, w.Header().Get("X-Robots-Tag"), "noindex")
		require.Empty(t, w.Header().Values("Set-Cookie"))
		page := w.Body.String()
		require.Contains(t, page, "<h1>"+m.Title+"</h1>")
		for _, e := range elements(t, page) {
			require.NotContains(t, []string{"a", "form", "input", "button"}, e.name, m.Name)
			require.True(t, e.attrs["href"] == "" || strings.HasPrefix(e.attrs["href"], "/assets/"), e.attrs["href"])
		}
		for _, other := range snap.Outlook.Molds {
			if other.Name != m.Name {
				require.NotContains(t, page, other.Title, m.Name)
			}
		}
		for _, mark := range m.Marks {
			if mark.Note != "" {
				require.NotContains(t, page, mark.Note)
			}
		}
		require.NotContains(t, page, "Museum annex")
	}
	require.NotContains(t, log.String(), backwards("rosette"), "a link is never written down")
}

func TestLinksAreMadeAndRevoked(t *testing.T) {
	h, d, log := guarded(Visitor{Name: "anna", Marks: true})
	w := post(t, h, "/links", url.Values{"mold": {"rosette"}, "seconds": {"604800"}}, nil)
	require.Equal(t, http.StatusCreated, w.Code)
	require.Contains(t, w.Body.String(), `value="http://shop.test/look/ettesor"`)
	require.Equal(t, "anna", d.links[0].By)
	require.NotContains(t, get(t, h, "/molds/rosette").Body.String(), "ettesor", "it is shown once")
	_, row, _ := strings.Cut(plain(get(t, h, "/molds/rosette").Body.String()), "A link by anna, ")
	row, _, _ = strings.Cut(row, "<")
	require.Equal(t, "made Thu 19:32, opens until Thu 4 Dec 19:32", strings.TrimSpace(row))

	w = post(t, h, "/links", url.Values{"mold": {"corner"}, "seconds": {"60"}}, asJSON)
	require.Equal(t, http.StatusCreated, w.Code)
	require.JSONEq(t, `{"id":"00000001","mold":"corner","by":"anna","made":"2025-11-27T18:32:10Z","until":"2025-11-27T18:33:10Z","path":"/look/renroc"}`, w.Body.String())
	list := get(t, h, "/links").Body.String()
	require.Contains(t, list, `"mold":"corner"`)
	require.NotContains(t, list, "renroc")

	for name, form := range map[string]url.Values{
		"no mold": {"mold": {"none"}, "seconds": {"60"}}, "no time": {"mold": {"corner"}}, "too short": {"mold": {"corner"}, "seconds": {"1"}},
		"negative": {"mold": {"corner"}, "seconds": {"-60"}}, "not whole": {"mold": {"corner"}, "seconds": {"1e9"}},
	} {
		require.Equal(t, http.StatusUnprocessableEntity, post(t, h, "/links", form, asJSON).Code, name)
	}
	require.Len(t, d.links, 2)

	require.Equal(t, http.StatusUnprocessableEntity, post(t, h, "/links/revoke", url.Values{"id": {"7"}}, nil).Code)
	w = post(t, h, "/links/revoke", url.Values{"id": {"00000000"}}, nil)
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/molds/rosette", w.Header().Get("Location"))
	require.Equal(t, http.StatusNotFound, get(t, h, "/look/ettesor").Code)
	for _, token := range []string{"ettesor", "renroc"} {
		require.NotContains(t, log.String(), token)
	}
}

// Even a refusal that is written down leaves the token out.
func TestRefusedLinksAreNotWrittenDown(t *testing.T) {
	h, _, log := guarded(Visitor{Marks: true})
	r := httptest.NewRequest(http.MethodGet, "http://evil.test/look/secret-token", nil)
	h.ServeHTTP(httptest.NewRecorder(), r)
	post(t, h, "/look/secret-token", nil, http.Header{"Origin": {"https://evil.test"}})
	post(t, h, "/x/look/secret-token", nil, http.Header{"Origin": {"https://evil.test"}})
	require.Contains(t, log.String(), "/look/...")
	require.NotContains(t, log.String(), "secret-token")
}

func TestWithoutLinksNoneIsOffered(t *testing.T) {
	h := New(cannedOptions(annex()))
	require.NotContains(t, get(t, h, "/molds/rosette").Body.String(), "/links")
	require.Equal(t, http.StatusUnprocessableEntity, post(t, h, "/links", url.Values{"mold": {"rosette"}, "seconds": {"60"}}, nil).Code)
	require.Equal(t, http.StatusNotFound, get(t, h, "/look/x").Code)
	require.Equal(t, http.StatusSeeOther, post(t, h, LoginPath, nil, nil).Code, "nobody is asked")
}

// A mark keeps the name of the visitor who entered it, whatever the form says, and it is shown wherever the mark is,
// but behind no link.
func TestAMarkSaysWhoEnteredIt(t *testing.T) {
	for want, who := range map[string]Visitor{"anna": {Name: "anna", Marks: true}, "": {Marks: true}} {
		var got model.Mark
		o, d := cannedOptions(annex()), &drawer{}
		o.Door, o.Links = porter{who}, d
		keep := o.Record
		o.Record = func(ctx context.Context, m model.Mark) (model.Mark, error) { got = m; return keep(ctx, m) }
		w := post(t, New(o), "/marks", url.Values{"kind": {"coat on"}, "mold": {"rosette"}, "material": {"lacquer"}, "entered_by": {"eve"}}, nil)
		require.Equal(t, http.StatusSeeOther, w.Code)
		require.Equal(t, want, got.EnteredBy)
	}

	snap, d := annex(), &drawer{}
	m := &snap.Outlook.Molds[0]
	m.Marks[0].EnteredBy = "zoe"
	o := cannedOptions(snap)
	o.Door, o.Links = porter{Visitor{Name: "ben"}}, d
	h := New(o)
	number := fmt.Sprintf("mark %d, by zoe", m.Marks[0].ID)
	require.Contains(t, get(t, h, "/molds/"+m.Name).Body.String(), number)
	require.Contains(t, get(t, h, diaryPath).Body.String(), ", by zoe")
	require.Regexp(t, `"entered_by": *"zoe"`, get(t, h, "/snapshot.json").Body.String())
	_, err := d.Make(m.Name, time.Hour, "")
	require.NoError(t, err)
	require.NotContains(t, get(t, h, LinkPath(backwards(m.Name))).Body.String(), "zoe")

	rep, err := cannedReport(t.Context(), "finial")
	require.NoError(t, err)
	rep.Marks[1].EnteredBy = "zoe"
	var paper, table bytes.Buffer
	require.NoError(t, WriteReport(&paper, rep, o))
	require.Contains(t, plain(paper.String()), ", by zoe</td>")
	require.NoError(t, WriteReportCSV(&table, rep, berlin()))
	for _, row := range rowsOfCSV(t, table.Bytes()) {
		if row["row"] == "mark" && row["mark"] == strconv.FormatInt(rep.Marks[1].ID, 10) {
			require.Equal(t, "zoe", row["entered_by"])
		}
	}
}
