package page

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

func TestHeaders(t *testing.T) {
	h := New(cannedOptions(annex()))
	for _, path := range []string{"/", "/molds/rosette", "/snapshot.json", "/nowhere"} {
		header := get(t, h, path).Header()
		csp := header.Get("Content-Security-Policy")
		for _, part := range []string{"default-src 'none'", "style-src 'self'", "script-src 'self'", "form-action 'self'", "frame-ancestors 'none'", "base-uri 'none'"} {
			require.Contains(t, csp, part)
		}
		require.NotContains(t, csp, "unsafe")
		require.Equal(t, "nosniff", header.Get("X-Content-Type-Options"))
		require.Equal(t, "no-store", header.Get("Cache-Control"))
	}
}

// With "no-referrer" browsers send "Origin: null" with the forms of a page (Fetch standard, "append a
// request Origin header"); over plain HTTP nothing else tells them from another site's.
func TestFormsKeepTheirOrigin(t *testing.T) {
	require.Equal(t, "same-origin", get(t, New(cannedOptions(annex())), "/").Header().Get("Referrer-Policy"))
}

func TestOtherOriginsAreRefused(t *testing.T) {
	form := url.Values{"kind": {"poured"}, "mold": {"corner"}}
	for name, header := range map[string]http.Header{
		"another site":              {"Sec-Fetch-Site": {"cross-site"}},
		"a neighbor on the domain":  {"Sec-Fetch-Site": {"same-site"}},
		"another origin, no Fetch":  {"Origin": {"http://evil.test"}},
		"an origin that is hidden":  {"Origin": {"null"}},
		"another port of this host": {"Origin": {"http://shop.test:81"}},
	} {
		h, k := withKeeper()
		w := post(t, h, "/marks", form, header)
		require.Equal(t, http.StatusForbidden, w.Code, name)
		require.Empty(t, k.marks, name)
		require.NotEmpty(t, w.Header().Get("Content-Security-Policy"))
	}
	for name, header := range map[string]http.Header{
		"the page itself":                {"Sec-Fetch-Site": {"same-origin"}},
		"the page itself on plain HTTP":  {"Origin": {"http://shop.test"}},
		"a command, which sends neither": {"Origin": nil},
	} {
		h, k := withKeeper()
		require.Equal(t, http.StatusSeeOther, post(t, h, "/marks", form, header).Code, name)
		require.Len(t, k.marks, 1, name)
	}
}

func TestOversizedAndForeignBodies(t *testing.T) {
	h, k := withKeeper()
	big := url.Values{"kind": {"poured"}, "mold": {"corner"}, "note": {strings.Repeat("x", maxBody)}}
	require.Equal(t, http.StatusRequestEntityTooLarge, post(t, h, "/marks", big, nil).Code)
	w := post(t, h, "/marks", big, asJSON)
	require.Equal(t, http.StatusRequestEntityTooLarge, w.Code)
	require.Contains(t, w.Body.String(), `"error"`)
	require.Equal(t, http.StatusUnsupportedMediaType, post(t, h, "/marks", nil, http.Header{"Content-Type": {"text/plain"}}).Code)
	require.Equal(t, http.StatusUnsupportedMediaType, post(t, h, "/marks", nil, http.Header{"Content-Type": {"application/json"}}).Code)
	r := httptest.NewRequest(http.MethodPost, "http://shop.test/marks", strings.NewReader("kind=%zz"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	bad := httptest.NewRecorder()
	h.ServeHTTP(bad, r)
	require.Equal(t, http.StatusBadRequest, bad.Code)
	require.Empty(t, k.marks)
}

func TestGetChangesNothing(t *testing.T) {
	h, k := withKeeper()
	for _, path := range []string{"/", "/marks?kind=poured&mold=corner", "/unit?unit=F", "/begin?kind=begun&title=x", "/molds/corner?marked=5", "/places/bench"} {
		w := get(t, h, path)
		require.Empty(t, w.Header().Values("Set-Cookie"), path)
	}
	require.Empty(t, k.marks)
	require.Equal(t, http.StatusMethodNotAllowed, post(t, h, "/molds/corner", url.Values{}, nil).Code)
}

func TestWithoutRecordThePageOnlyShows(t *testing.T) {
	o := cannedOptions(annex())
	o.Record, o.Trace, o.Alerts = nil, nil, nil
	h := New(o)
	page := get(t, h, "/molds/rosette").Body.String()
	require.NotContains(t, page, `action="/marks"`)
	require.Contains(t, page, "checked: cup tacky")
	require.Contains(t, get(t, h, "/places/bench").Body.String(), "No record of readings is kept here.")
	require.Equal(t, http.StatusServiceUnavailable, post(t, h, "/marks", url.Values{"kind": {"poured"}}, nil).Code)
}

func TestUnitIsChosenByTheVisitor(t *testing.T) {
	h := New(cannedOptions(annex()))
	w := post(t, h, "/unit", url.Values{"unit": {"F"}, "back": {"/places/bench?span=7d"}}, nil)
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/places/bench?span=7d", w.Header().Get("Location"))
	cookies := w.Result().Cookies()
	require.Len(t, cookies, 1)
	require.True(t, cookies[0].HttpOnly)
	require.Equal(t, http.SameSiteLaxMode, cookies[0].SameSite)

	page := get(t, h, "/", cookies...).Body.String()
	require.Contains(t, page, "57.6\u00a0°F") // 14.2 °C, NIST SP 811 (2008) B.8
	require.NotContains(t, page, "14.2\u00a0°C")
	require.Contains(t, get(t, h, "/").Body.String(), "14.2\u00a0°C")
	require.Contains(t, get(t, h, "/", &http.Cookie{Name: unitCookie, Value: "K"}).Body.String(), "14.2\u00a0°C")
	require.Equal(t, http.StatusUnprocessableEntity, post(t, h, "/unit", url.Values{"unit": {"K"}}, nil).Code)
}

func TestBackStaysHere(t *testing.T) {
	for back, want := range map[string]string{
		"/molds/x": "/molds/x", "": "/", "//evil.test": "/", "/\\evil.test": "/", "https://evil.test": "/", "/a\nb": "/", "javascript:1": "/",
	} {
		require.Equal(t, want, localPath(back), back)
	}
}

func TestStaleAndTroubledShopsSaySo(t *testing.T) {
	o := cannedOptions(annex())
	o.Now = func() time.Time { return thursday().Add(14 * time.Minute) }
	require.Contains(t, plain(get(t, New(o), "/").Body.String()), "What you see is 14 min old: the shop has told nothing since Thu 19:32.")

	h := New(cannedOptions(nil))
	for _, path := range []string{"/", "/molds/rosette", "/places/bench", "/snapshot.json"} {
		require.Equal(t, http.StatusServiceUnavailable, get(t, h, path).Code, path)
	}
	require.Contains(t, get(t, h, "/").Body.String(), "The shop has not told anything yet.")
	require.Equal(t, http.StatusServiceUnavailable, get(t, New(Options{Hosts: []string{"shop.test"}}), "/").Code)
}

func TestRecordThatCannotBeRead(t *testing.T) {
	o := cannedOptions(annex())
	o.Trace = func(context.Context, string, time.Time, time.Time) ([]Point, error) { return nil, errors.New("locked") }
	h := New(o)
	for _, path := range []string{"/molds/rosette", "/places/bench"} {
		w := get(t, h, path)
		require.Equal(t, http.StatusOK, w.Code)
		require.Contains(t, w.Body.String(), noRecord[:30])
	}
}

func TestNotFound(t *testing.T) {
	h := New(cannedOptions(annex()))
	for _, path := range []string{"/nowhere", "/molds/none", "/places/none", "/assets/none.css", "/molds/a/b"} {
		require.Equal(t, http.StatusNotFound, get(t, h, path).Code, path)
	}
}

func TestAssetsMayBeKept(t *testing.T) {
	h := New(cannedOptions(annex()))
	for name, kind := range map[string]string{"page.css": "text/css; charset=utf-8", "refresh.js": "text/javascript; charset=utf-8", "icon.svg": "image/svg+xml"} {
		at := loadAssets().path(name)
		require.Regexp(t, `^/assets/[a-z]+-[0-9a-f]{12}\.[a-z]+$`, at)
		w := get(t, h, at)
		require.Equal(t, http.StatusOK, w.Code)
		require.Equal(t, kind, w.Header().Get("Content-Type"))
		require.Contains(t, w.Header().Get("Cache-Control"), "immutable")
	}
}

// Names with anything in them are shown and linked safely.
func TestHostileNames(t *testing.T) {
	snap := annex()
	name := `a/b?<script>"'`
	snap.Outlook.Molds[0].Name, snap.Outlook.Molds[0].Title = name, name
	snap.Outlook.Places[0].Name = name
	h := New(cannedOptions(snap))
	page := get(t, h, "/").Body.String()
	require.NotContains(t, page, `<script>"`)
	require.Equal(t, http.StatusOK, get(t, h, moldPath(name)).Code)
	require.Equal(t, http.StatusOK, get(t, h, placePath(name)).Code)
}

func TestSnapshotJSON(t *testing.T) {
	snap := annex()
	w := get(t, New(cannedOptions(snap)), "/snapshot.json")
	require.Equal(t, "application/json", w.Header().Get("Content-Type"))
	var got wireSnapshot
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &got))
	require.Equal(t, wireOf(snap), got)

	var loose map[string]any
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &loose))
	pattern := loose["places"].([]any)[1].(map[string]any)
	require.Nil(t, pattern["humidity"], "not measured is null")
	require.InDelta(t, 13.4, pattern["temp_c"], 1e-9)
	at, err := time.Parse(time.RFC3339Nano, loose["at"].(string))
	require.NoError(t, err)
	require.True(t, at.Equal(snap.Outlook.At))
	bracket := loose["molds"].([]any)[3].(map[string]any)["steps"].([]any)[1].(map[string]any)
	require.Nil(t, bracket["likely"], "what cannot be said is null")
	require.NotNil(t, bracket["not_before"])
	require.Nil(t, loose["molds"].([]any)[3].(map[string]any)["doubt"], "nothing was touched")
	require.NotContains(t, loose["places"].([]any)[0], "off_k", "the probes agree")
	require.Nil(t, known(math.Inf(-1)))
	require.Nil(t, instant(time.Time{}))
}

func TestNextMarksFollowTheWork(t *testing.T) {
	for name, m := range map[string]struct {
		of   model.MoldOutlook
		want model.MarkKind
	}{
		"nothing on it": {model.MoldOutlook{}, model.CoatOn}, "coats": {coating(), model.CoatOn}, "in the cup": {inCup(), model.Poured},
		"poured": {curing(), model.Checked}, "demolded": {done(), model.Checked},
	} {
		require.Equal(t, m.want, nextKinds(&m.of)[0], name)
	}
}

// What cannot wait comes first.
func TestPressing(t *testing.T) {
	page := get(t, New(cannedOptions(annex())), "/").Body.String()
	order := []string{"Corner block", "Fit to pour?", ">Volute<", ">Frieze, left end<", ">Rosette<", ">Finial<"}
	at := -1
	for _, s := range order {
		next := strings.Index(page, s)
		require.Greater(t, next, at, s)
		at = next
	}
}
