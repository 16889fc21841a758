package page

import (
	"net/http"
	"strings"
	"time"
)

// policy allows what the page itself brings and nothing else.
const policy = "default-src 'none'; style-src 'self'; img-src 'self' data:; script-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; worker-src 'self'; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// referrers keeps addresses from other sites. It is not "no-referrer": with that, browsers send
// "Origin: null" with forms (Fetch standard, "append a request Origin header"), and over plain HTTP, as
// on a shop's own network, they send no Sec-Fetch-Site either, so every form would look like another
// site's.
const referrers = "same-origin"

// withHeaders sets the security headers of every answer. Pages are never kept by caches: an old outlook
// shown as new could cost a pattern.
func withHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", referrers)
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// unitCookie keeps a visitor's choice of temperature scale.
const unitCookie = "unit"

func unitCode(u Unit) string {
	if u == Fahrenheit {
		return "F"
	}
	return "C"
}

func (s *site) unitOf(r *http.Request) Unit {
	c, err := r.Cookie(unitCookie)
	switch {
	case err != nil:
		return s.opts.Unit
	case c.Value == "F":
		return Fahrenheit
	case c.Value == "C":
		return Celsius
	}
	return s.opts.Unit
}

// postUnit changes the scale for this visitor and goes back to where the visitor was.
func (s *site) postUnit(w http.ResponseWriter, r *http.Request) {
	if !s.parseForm(w, r) {
		return
	}
	unit := r.PostForm.Get("unit")
	if unit != "C" && unit != "F" {
		s.refuse(w, r, http.StatusUnprocessableEntity, "Choose C or F as the unit.")
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: unitCookie, Value: unit, Path: "/", MaxAge: int((365 * 24 * time.Hour).Seconds()),
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil,
	})
	http.Redirect(w, r, localPath(r.PostForm.Get("back")), http.StatusSeeOther)
}

// localPath lets through an address on this site only.
func localPath(p string) string {
	if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.ContainsAny(p, "\\\r\n\t") {
		return "/"
	}
	return p
}
