package page

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"pourward/model"
)

// nowView is the first page.
type nowView struct {
	frame
	Alerts   []alertView
	Pressing []cardView // with a batch in the cup
	Places   []placeView
	Molds    []cardView // the others in work
	Done     []cardView
	Probes   []probeView
}

func (s *site) now(w http.ResponseWriter, r *http.Request) {
	snap, v := s.look(r)
	o := outlookOf(snap)
	view := nowView{frame: s.frame(v, snap, s.opts.ShopName, "/"), Probes: v.probes(snap)}
	if s.opts.Alerts != nil {
		view.Alerts = v.alerts(s.opts.Alerts())
	}
	for _, p := range o.Places {
		view.Places = append(view.Places, v.place(o, p))
	}
	for i := range o.Molds {
		c := s.card(v, &o.Molds[i])
		switch {
		case !o.Molds[i].Open():
			c.When = v.at(o.Molds[i].Demolded)
			view.Done = append(view.Done, c)
		case c.Class == "now":
			view.Pressing = append(view.Pressing, c)
		default:
			view.Molds = append(view.Molds, c)
		}
	}
	slices.SortStableFunc(view.Molds, byPress)
	s.render(w, r, statusOf(snap), "now", view)
}

// statusOf is 503 before the shop told anything, so that a watcher sees it.
func statusOf(snap *model.Snapshot) int {
	if snap == nil || snap.Outlook == nil {
		return http.StatusServiceUnavailable
	}
	return http.StatusOK
}

// moldView is the page of one mold.
type moldView struct {
	frame
	Card         cardView
	Begun, Ended string
	Open         bool
	Poured       bool
	Time         drawing
	Lines        []traceLine // named in the legend
	Fan          bool        // a forecast is drawn
	Cautions     []string    // of the open steps, each once
	Steps        []stepView
	Table        rowsView
	Coming       []model.Coming
	NoTrace      string
	Forms        []markForm
	Weigh        *weighView // what to weigh, before it is mixed
	Marks        []markRow
	Report       string    // address; empty where none is given
	Labels       string    // address
	Name         string    // the mold's short name
	Links        []linkRow // to this mold
	Hands        bool      // the visitor can hand out links
}

// missing is something asked for that the outlook does not hold.
type missing struct {
	told       int // status of the outlook: whether there is one
	kind, name string
	notice     string // of a mark just recorded of it
	unknown    string // said where there is none
}

// missing answers for it: a mark that failed goes back into its form, and one just recorded is only not
// folded yet.
func (s *site) missing(w http.ResponseWriter, r *http.Request, status int, failed *attempt, m missing) {
	switch {
	case failed != nil:
		s.showLone(w, r, status, failed)
	case m.told != http.StatusOK:
		s.message(w, r, m.told, m.name, "Look again in a moment.")
	case m.notice != "":
		s.message(w, r, http.StatusOK, m.name, m.notice+" The outlook of this "+m.kind+" follows in a moment.")
	default:
		s.message(w, r, http.StatusNotFound, "No such "+m.kind, m.unknown)
	}
}

func (s *site) mold(w http.ResponseWriter, r *http.Request) {
	s.showMold(w, r, r.PathValue("name"), http.StatusOK, nil)
}

// showMold shows a mold, with an attempt at a mark that failed if there is one.
func (s *site) showMold(w http.ResponseWriter, r *http.Request, name string, status int, failed *attempt) {
	snap, v := s.look(r)
	notice := v.recorded(r.URL.Query(), snap)
	m, ok := outlookOf(snap).Mold(name)
	if !ok {
		s.missing(w, r, status, failed, noMold(snap, name, notice))
		return
	}
	view := s.moldView(r, v, snap, m)
	view.Notice = notice
	view.Weigh = s.weigh(r.URL.Query(), m)
	view.Forms, view.Marks = s.forms(v, m, view.Weigh, failed), s.markRows(v, m, failed)
	view.Labels = labelPath(m.Name)
	view.Name, view.Links, view.Hands = m.Name, s.linkRows(v, m.Name), v.visitor.Marks && s.hands()
	if failed != nil {
		view.Complaint, view.FormAt = failed.complaint, formID(failed.entry)
	}
	s.render(w, r, status, "mold", view)
}

// noMold is a mold that a snapshot does not tell of.
func noMold(snap *model.Snapshot, name, notice string) missing {
	return missing{statusOf(snap), "mold", name, notice, fmt.Sprintf("No mold called %q is in work, nor was one demolded in the last two days.", name)}
}

func (s *site) moldView(r *http.Request, v voice, snap *model.Snapshot, m *model.MoldOutlook) moldView {
	view := moldView{Card: s.card(v, m), Begun: v.at(m.Begun), Open: m.Open(), Poured: m.Poured, Coming: m.Coming}
	view.frame = s.frame(v, snap, view.Card.Title, moldPath(m.Name))
	for _, st := range drawnSteps(m) {
		view.Steps = append(view.Steps, s.step(v, st))
		if st.Standing == model.Closed {
			continue
		}
		for _, c := range st.Cautions {
			if !slices.Contains(view.Cautions, c) {
				view.Cautions = append(view.Cautions, c)
			}
		}
	}
	if !m.Open() {
		view.Ended = v.at(m.Demolded)
	}
	if s.opts.Report != nil {
		view.Report = reportPath(m.Name)
	}
	s.timeLine(r, v, snap.Outlook, m, &view)
	return view
}

// recorded says that a mark was taken, when the page was come to by entering it.
func (v voice) recorded(q url.Values, snap *model.Snapshot) string {
	id, err := strconv.ParseInt(q.Get("marked"), 10, 64)
	if err != nil || id <= 0 {
		return ""
	}
	o := outlookOf(snap)
	for i := range o.Molds {
		for _, m := range o.Molds[i].Marks {
			if m.ID == id {
				return sentence("recorded:", markWords(m)+",", v.at(m.At))
			}
		}
	}
	for i := range o.Patches {
		for _, m := range o.Patches[i].Marks {
			if m.ID == id {
				return sentence("recorded:", markWords(m)+",", v.at(m.At))
			}
		}
	}
	return fmt.Sprintf("Recorded as mark %d.", id)
}

// placePage is the page of one place.
type placePage struct {
	frame
	Place   placeView
	Probes  []probeView // where there are several
	Span    string      // "24h" or "7d"
	Spans   []spanLink
	Time    drawing
	Fan     bool // a forecast is drawn
	Table   rowsView
	NoTrace string
}

type spanLink struct {
	Href, Text string
	Here       bool
}

func (s *site) place(w http.ResponseWriter, r *http.Request) {
	snap, v := s.look(r)
	p, ok := outlookOf(snap).Place(r.PathValue("name"))
	if statusOf(snap) != http.StatusOK {
		s.message(w, r, statusOf(snap), "Not yet", "Look again in a moment.")
		return
	}
	if !ok {
		s.message(w, r, http.StatusNotFound, "No such place", fmt.Sprintf("No place is called %q.", r.PathValue("name")))
		return
	}
	view := placePage{Place: v.place(snap.Outlook, p), Probes: v.probesAt(snap, p), Span: "24h"}
	back := 24 * time.Hour
	if r.URL.Query().Get("span") == "7d" {
		view.Span, back = "7d", 7*24*time.Hour
	}
	href := view.Place.Href
	view.Spans = []spanLink{{href, "24 hours", view.Span == "24h"}, {href + "?span=7d", "7 days", view.Span == "7d"}}
	view.frame = s.frame(v, snap, view.Place.Name, href)
	if view.Span == "7d" {
		view.Path += "?span=7d"
	}
	s.placeTrace(r, v, snap.Outlook, p, back, &view)
	s.render(w, r, http.StatusOK, "place", view)
}
