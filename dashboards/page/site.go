package page

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"pourward/model"
)

//go:embed templates/*.html
var templateFiles embed.FS

// site answers the requests.
type site struct {
	opts   Options
	pages  map[string]*template.Template // by name of the file, without ".html"
	assets assets
	recent *recent

	reading  chan struct{} // holds one while a report is read
	planning chan struct{} // holds one while a plan is reckoned

	listeners chan struct{} // holds one for each that listens for news
}

func newSite(o Options) *site {
	return &site{opts: o, pages: parsePages(templateFiles), assets: loadAssets(), recent: newRecent(), reading: make(chan struct{}, 1), planning: make(chan struct{}, 1), listeners: make(chan struct{}, mostListeners)}
}

// parsePages joins every template that is a page with those it is made of, whose names begin with "_".
func parsePages(files fs.FS) map[string]*template.Template {
	names, _ := fs.Glob(files, "templates/[^_]*.html") // the pattern is well formed
	parts := template.Must(template.ParseFS(files, "templates/_*.html"))
	pages := make(map[string]*template.Template, len(names))
	for _, name := range names {
		page := template.Must(parts.Clone())
		pages[strings.TrimSuffix(path.Base(name), ".html")] = template.Must(page.ParseFS(files, name))
	}
	return pages
}

// frame is what every page has around its own matter.
type frame struct {
	Title, Shop    string
	Path           string // of this page, to come back to
	Again          string // address for the refresh, where it is not Path
	News           string // address that tells when to refresh; empty where it is to be done by the clock alone
	Here           string // which entry of the navigation this page is
	CSS, JS, Icon  string
	App, Touch     string // what a home screen needs to know, and its icon
	AsOf, AsOfISO  string
	Late           string // said when the outlook is old
	Unkept         string // said when the record cannot be written
	Undated        string // said when the clock may be wrong
	Notice         string
	Complaint      string
	FormAt         string // id of the form that was not taken, where it is further down
	Unit, UnitName string
	Writes         bool   // the visitor can enter marks here
	Plans          bool   // deadlines can be planned back from here
	User           string // who is logged in; empty where nobody is asked
}

// lateAfter is what is late in a shop: an outlook, or the entry of a mark.
const lateAfter = 2 * time.Minute

func (s *site) frame(v voice, snap *model.Snapshot, title, at string) frame {
	f := s.bareFrame(title)
	f.Shop, f.Path, f.Here, f.News = s.opts.ShopName, at, at, newsPath
	f.UnitName, f.Unit = v.unitName(), unitCode(v.unit)
	f.Writes, f.User, f.Plans = s.opts.Record != nil && v.visitor.Marks, v.visitor.Name, s.opts.Sight != nil
	if snap == nil || snap.Outlook == nil {
		f.Late = "The shop has not told anything yet. It may still be reading its record."
		return f
	}
	told := snap.Outlook.At
	f.AsOf, f.AsOfISO = told.In(v.zone).Format("15:04:05"), s.tiding(snap)
	if age := v.now.Sub(told); age > s.opts.Late {
		f.Late = fmt.Sprintf("What you see is %s old: the shop has told nothing since %s.", v.span(age), v.at(told))
	}
	f.Unkept, f.Undated = v.unkept(snap.Health.Journal), undated(snap.Health)
	return f
}

// look returns the newest snapshot and the voice for this visitor.
func (s *site) look(r *http.Request) (*model.Snapshot, voice) {
	v := voice{now: s.opts.Now(), zone: s.opts.Zone, unit: s.unitOf(r), visitor: s.opts.Door.Visitor(r)}
	return s.opts.Snapshot(), v
}

// outlookOf is the outlook of a snapshot, an empty one where there is none.
func outlookOf(snap *model.Snapshot) *model.Outlook {
	if snap == nil || snap.Outlook == nil {
		return &model.Outlook{}
	}
	return snap.Outlook
}

// render writes a whole page, or none of it.
func (s *site) render(w http.ResponseWriter, r *http.Request, status int, name string, data any) {
	s.renderIn("frame", w, r, status, name, data)
}

// renderIn renders within a frame: "frame", or "bare" for those who may not go on from there.
func (s *site) renderIn(around string, w http.ResponseWriter, r *http.Request, status int, name string, data any) {
	var buf bytes.Buffer
	if err := s.pages[name].ExecuteTemplate(&buf, around, data); err != nil {
		s.opts.Log.Error("page not rendered", "page", name, "path", loggable(r), "error", err)
		http.Error(w, "this page could not be made; the shop goes on, and its log says more", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	whole := bytes.ToValidUTF8(buf.Bytes(), []byte("\uFFFD")) // what a visitor sent may be no text, and is shown to them again
	_, _ = w.Write(whole)                                     // the visitor is gone; there is nobody to tell
}

// messageView is a page that only says something.
type messageView struct {
	frame
	Text string
}

func (s *site) message(w http.ResponseWriter, r *http.Request, status int, title, text string) {
	snap, v := s.look(r)
	s.render(w, r, status, "message", messageView{s.frame(v, snap, title, "/"), text})
}

func (s *site) notFound(w http.ResponseWriter, r *http.Request) {
	s.message(w, r, http.StatusNotFound, "No such page", "There is nothing at this address.")
}

func (s *site) denied(w http.ResponseWriter, r *http.Request) {
	s.opts.Log.Warn("request from another origin refused", "path", loggable(r), "origin", r.Header.Get("Origin"))
	refusal := "This request came from another site and was refused. Open the page itself and enter it there."
	s.turnAway(w, r, http.StatusForbidden, refusal)
}
