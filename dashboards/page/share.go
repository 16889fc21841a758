package page

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"pourward/model"
)

// lookPath begins the address of a link to one mold; its token follows.
const lookPath = "/look/"

// LinkPath is the address of a link on the page's host. It is a secret.
func LinkPath(token string) string { return lookPath + url.PathEscape(token) }

// Link lets whoever has it look at one mold for some time.
type Link struct {
	ID          string // by which it is revoked; no secret
	Mold        string
	By          string // the user who made it; may be empty
	Made, Until time.Time
	Token       string // the secret in its address; known when it is made, and never again
}

// Links are the links to molds that were handed out. Errors are sentences for the visitor.
type Links interface {
	Make(mold string, lasts time.Duration, by string) (Link, error)
	// Of are the open links to a mold, or to all where it is empty.
	Of(mold string) []Link
	Revoke(id string) (Link, error)
	// Opens tells the mold that a token opens now.
	Opens(token string) (mold string, ok bool)
}

// noLinks are none.
type noLinks struct{}

var errNoLinks = errors.New("this shop hands out no links")

func (noLinks) Make(string, time.Duration, string) (Link, error) { return Link{}, errNoLinks }
func (noLinks) Of(string) []Link                                 { return nil }
func (noLinks) Revoke(string) (Link, error)                      { return Link{}, errNoLinks }
func (noLinks) Opens(string) (string, bool)                      { return "", false }

// hands reports whether links can be handed out here.
func (s *site) hands() bool { return s.opts.Links != Links(noLinks{}) }

// sharedView is one mold as a link shows it: how it stands, and nothing that leads further. What is added
// to the page of a mold is not shown here unless it is added here, too.
type sharedView struct{ moldView }

// shared shows the one mold that a link opens. A link that was revoked, has expired or never was gets one
// and the same answer.
func (s *site) shared(w http.ResponseWriter, r *http.Request) {
	// The address is the key: no other site may be told it, and no search engine may keep it. No form is
	// sent from here, so that nothing needs an origin.
	w.Header().Set("Referrer-Policy", "no-referrer")
	w.Header().Set("X-Robots-Tag", "noindex, nofollow, noarchive")
	name, ok := s.opts.Links.Opens(r.PathValue("token"))
	snap, v := s.look(r)
	m, known := outlookOf(snap).Mold(name)
	switch {
	case !ok:
		s.turnAway(w, r, http.StatusNotFound, "This link opens nothing. It may have expired or been revoked: ask the shop for a new one.")
		return
	case statusOf(snap) != http.StatusOK:
		s.turnAway(w, r, statusOf(snap), "The shop has not told anything yet. Look again in a moment.")
		return
	case !known:
		s.turnAway(w, r, http.StatusNotFound, "This mold is not in work any more.")
		return
	}
	view := sharedView{s.moldView(r, v, snap, m)}
	told := view.frame
	view.Card.VouchHref = "" // a patch is not what was shared
	view.frame = s.bareFrame(view.Card.Title)
	view.Path, view.AsOf, view.AsOfISO, view.Late = r.URL.EscapedPath(), told.AsOf, told.AsOfISO, told.Late
	s.renderIn("bare", w, r, http.StatusOK, "shared", view)
}

// linkRow is a link as the page of its mold shows it.
type linkRow struct{ ID, By, Made, Until string }

// linkRows are the open links to a mold, for those who may hand them out.
func (s *site) linkRows(v voice, mold string) []linkRow {
	if !v.visitor.Marks {
		return nil
	}
	var out []linkRow
	for _, l := range s.opts.Links.Of(mold) {
		out = append(out, linkRow{l.ID, l.By, v.at(l.Made), v.at(l.Until)})
	}
	return out
}

// wireLink is a link in JSON.
type wireLink struct {
	ID    string    `json:"id"`
	Mold  string    `json:"mold"`
	By    string    `json:"by,omitempty"`
	Made  time.Time `json:"made"`
	Until time.Time `json:"until"`
	Path  string    `json:"path,omitempty"` // the secret, when it is made
}

func linkOnWire(l Link) wireLink {
	out := wireLink{ID: l.ID, Mold: l.Mold, By: l.By, Made: l.Made, Until: l.Until}
	if l.Token != "" {
		out.Path = LinkPath(l.Token)
	}
	return out
}

// listLinks tells commands of the open links.
func (s *site) listLinks(w http.ResponseWriter, _ *http.Request) {
	list := []wireLink{}
	for _, l := range s.opts.Links.Of("") {
		list = append(list, linkOnWire(l))
	}
	writeJSON(w, http.StatusOK, map[string]any{"links": list})
}

// madeView shows a new link, this once.
type madeView struct {
	frame
	Card    string
	Back    string
	Address string
	Until   string
}

func (s *site) postLink(w http.ResponseWriter, r *http.Request) {
	if !s.parseForm(w, r) {
		return
	}
	snap, v := s.look(r)
	name := r.PostForm.Get("mold")
	m, known := outlookOf(snap).Mold(name)
	if !known {
		s.refuse(w, r, http.StatusUnprocessableEntity, fmt.Sprintf("There is no mold %.60q to link to; take the short name of one that is in work.", name))
		return
	}
	seconds, err := strconv.ParseUint(r.PostForm.Get("seconds"), 10, 31)
	if err != nil {
		s.refuse(w, r, http.StatusUnprocessableEntity, "How long the link lasts must be a whole number of seconds.")
		return
	}
	l, err := s.opts.Links.Make(m.Name, time.Duration(seconds)*time.Second, v.visitor.Name)
	if err != nil {
		s.refuse(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
		return
	}
	s.opts.Log.Info("link made", "link", l.ID, "mold", l.Mold, "by", l.By, "until", l.Until)
	if wantsJSON(r) {
		writeJSON(w, http.StatusCreated, linkOnWire(l))
		return
	}
	s.showMade(w, r, v, snap, m, l)
}

func (s *site) showMade(w http.ResponseWriter, r *http.Request, v voice, snap *model.Snapshot, m *model.MoldOutlook, l Link) {
	view := madeView{frame: s.frame(v, snap, "A link to "+m.Title, moldPath(m.Name)), Card: m.Title, Back: moldPath(m.Name), Until: v.at(l.Until)}
	view.Address = addressHere(r, LinkPath(l.Token))
	s.render(w, r, http.StatusCreated, "made", view)
}

func (s *site) postRevoke(w http.ResponseWriter, r *http.Request) {
	if !s.parseForm(w, r) {
		return
	}
	l, err := s.opts.Links.Revoke(r.PostForm.Get("id"))
	if err != nil {
		s.refuse(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
		return
	}
	_, v := s.look(r)
	s.opts.Log.Info("link revoked", "link", l.ID, "mold", l.Mold, "by", v.visitor.Name)
	if wantsJSON(r) {
		writeJSON(w, http.StatusOK, linkOnWire(l))
		return
	}
	http.Redirect(w, r, moldPath(l.Mold), http.StatusSeeOther)
}

// loggable is the path of a request as it may be written down: without the token of a link.
func loggable(r *http.Request) string {
	if strings.Contains(r.URL.Path, lookPath) {
		return lookPath + "..."
	}
	return r.URL.Path
}
