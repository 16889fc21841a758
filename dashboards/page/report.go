package page

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"

	"pourward/model"
	"pourward/model/report"
)

// reportPath is the address of the report of a mold.
func reportPath(name string) string { return moldPath(name) + "/report" }

// reportOf reads the report that a request asks for; false means that the request was answered already.
// One is read at a time: a report folds weeks of readings, and the shop must go on meanwhile.
func (s *site) reportOf(w http.ResponseWriter, r *http.Request) (*report.Report, bool) {
	if s.opts.Report == nil {
		s.message(w, r, http.StatusNotFound, "No report", "No record is kept here that a report could be read from.")
		return nil, false
	}
	select {
	case s.reading <- struct{}{}:
		defer func() { <-s.reading }()
	case <-r.Context().Done():
		return nil, false
	}
	rep, err := s.opts.Report(r.Context(), r.PathValue("name"))
	switch {
	case err == nil:
		return rep, true
	case errors.Is(err, report.ErrNoMold):
		s.message(w, r, http.StatusNotFound, "No such mold", sentence(err.Error()))
	default:
		s.opts.Log.Error("report not read", "mold", r.PathValue("name"), "error", err)
		s.message(w, r, http.StatusInternalServerError, "No report", "The report could not be read from the record just now; the shop's log says why.")
	}
	return nil, false
}

func (s *site) report(w http.ResponseWriter, r *http.Request) {
	rep, ok := s.reportOf(w, r)
	if !ok {
		return
	}
	_, v := s.look(r)
	view := s.paper(v, rep)
	view.CSS, view.PaperCSS, view.Icon = s.assets.path("page.css"), s.assets.path("report.css"), s.assets.path("icon.svg")
	view.Back, view.CSV = moldPath(rep.Mold.Name), reportPath(rep.Mold.Name)+".csv"
	if m, known := outlookOf(s.opts.Snapshot()).Mold(rep.Mold.Name); !known || m == nil {
		view.Back = "/" // its own page is gone
	}
	s.renderIn("paper", w, r, http.StatusOK, "report", view)
}

func (s *site) reportCSV(w http.ResponseWriter, r *http.Request) {
	rep, ok := s.reportOf(w, r)
	if !ok {
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", "mold-report.csv"))
	_ = WriteReportCSV(w, rep, s.opts.Zone) // the visitor is gone; there is nobody to tell
}

// WriteReport writes the report of a mold as one HTML file that needs no other. Of the options it takes the
// shelf, the zone, the unit and the shop's name.
func WriteReport(w io.Writer, rep *report.Report, opts Options) error {
	s := newSite(withDefaults(opts))
	view := s.paper(voice{zone: s.opts.Zone, unit: s.opts.Unit}, rep)
	for _, name := range []string{"page.css", "report.css"} {
		data, err := assetFiles.ReadFile("assets/" + name)
		if err != nil {
			return err
		}
		view.Inline += template.CSS(data) //nolint:gosec // our own style sheets
	}
	var buf bytes.Buffer
	if err := s.pages["report"].ExecuteTemplate(&buf, "paper", view); err != nil {
		return fmt.Errorf("write the report: %w", err)
	}
	_, err := buf.WriteTo(w)
	return err
}

// paperView is a report in words.
type paperView struct {
	Title, Shop, About, Times string
	CSS, PaperCSS, Icon       string       // addresses, where it is served
	Inline                    template.CSS // instead of them, in a file
	Back, CSV                 string

	Time      drawing
	Traced    bool
	Says      string // what the touches of cup, patch and mold came to
	Steps     []paperStep
	Told      []paperTold
	Marks     []paperMark
	Materials []paperMaterial
}

// paperStep is a step with the temperatures it had.
type paperStep struct {
	Title, From, To, Took, Room string
	Min, Mean, Max, Missing     string
}

// paperTold is what was told of one step, and what came of it below.
type paperTold struct {
	Title  string
	Rows   []paperBand
	Came   paperBand
	Gone   bool // the mark that began it was withdrawn
	Reason string
}

// paperBand is one band, or why there is none.
type paperBand struct {
	When, By                 string
	Earliest, Likely, Latest string
	Off                      string // by how much it came later than told
	Cannot                   string
}

type paperMark struct {
	ID                        int64
	What, At, Entered, Became string
	Note                      string
	Gone                      bool
}

type paperMaterial struct {
	Title, Of string
	Sources   []string
	Batches   []string
}

func (s *site) paper(v voice, rep *report.Report) paperView {
	v.now = rep.At
	m := &rep.Mold
	view := paperView{Title: m.Title, Shop: s.opts.ShopName, About: s.aboutMold(v, rep), Times: v.zone.String()}
	if view.Title == "" {
		view.Title = m.Name
	}
	if m.Doubt != nil {
		view.Says = sentence(m.Doubt.Says)
	}
	view.Time, view.Traced = v.paperTime(rep)
	for _, st := range rep.Steps {
		view.Steps = append(view.Steps, v.paperStep(st))
	}
	view.Told = v.paperTold(rep)
	for _, e := range rep.Marks {
		view.Marks = append(view.Marks, s.paperMark(v, e))
	}
	for _, x := range rep.Materials {
		view.Materials = append(view.Materials, s.paperMaterial(x))
	}
	return view
}

// paperTime draws the mold over its time and what it felt below.
func (v voice) paperTime(rep *report.Report) (drawing, bool) {
	m := &rep.Mold
	d := v.section(m, true)
	ts := timeScale{x0: panelLeft, x1: drawingWidth - 1}
	ts.from, ts.to = v.stretch(m)
	felt := track{class: "pattern", name: "felt", points: pointsOf(rep.Felt, ts), gap: ts.to.Sub(ts.from)}
	panel := v.tempPanel([]track{felt}, nil, ts, d.GridEnd+2)
	d.hang(ts, v, panel)
	d.Label += " " + v.traceWords("Temperature", felt, ts)
	if !m.Open() {
		d.Now = nil
	}
	return d, len(panel.Lines) > 0
}

// pointsOf are the ends of what was felt within a drawing; a stretch that was not measured breaks the line.
func pointsOf(felt []model.Stretch, ts timeScale) []Point {
	var out []Point
	for _, f := range felt {
		switch {
		case f.To.Before(ts.from) || f.From.After(ts.to):
		case f.NotMeasured:
			out = append(out, Point{At: f.From, TempC: nan(), Humidity: nan()})
		default:
			out = append(out, Point{At: f.From, TempC: f.FromC, Humidity: nan()}, Point{At: f.To, TempC: f.ToC, Humidity: nan()})
		}
	}
	return out
}
