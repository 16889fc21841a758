package page

import (
	"net/http"
	"slices"

	"pourward/model"
)

// diaryPath is the page of all marks.
const diaryPath = "/log"

// diaryView lists the marks in effect of all molds that are shown, the newest first.
type diaryView struct {
	frame
	Days []diaryDay
}

type diaryDay struct {
	Date string
	Rows []diaryRow
}

type diaryRow struct{ Time, Mold, Href, What, Note string }

func (s *site) diary(w http.ResponseWriter, r *http.Request) {
	snap, v := s.look(r)
	view := diaryView{frame: s.frame(v, snap, "Log", diaryPath)}
	var all []model.Mark
	titles := map[string]string{}
	for _, m := range outlookOf(snap).Molds {
		all = append(all, m.Marks...)
		titles[m.Name] = m.Title
	}
	slices.SortStableFunc(all, func(a, b model.Mark) int { return b.At.Compare(a.At) })
	for _, m := range all {
		at := m.At.In(v.zone)
		date := at.Format("Monday 2 January")
		if n := len(view.Days); n == 0 || view.Days[n-1].Date != date {
			view.Days = append(view.Days, diaryDay{Date: date})
		}
		day := &view.Days[len(view.Days)-1]
		day.Rows = append(day.Rows, diaryRow{at.Format("15:04"), titles[m.Mold], moldPath(m.Mold), s.markTitle(m) + byWords(m), m.Note})
	}
	s.render(w, r, statusOf(snap), "log", view)
}
