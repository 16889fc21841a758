package page

import (
	"fmt"
	"math"
	"strings"
	"time"

	"pourward/model"
	"pourward/model/report"
)

func nan() float64 { return math.NaN() }

// dated is an instant on paper: with its date, since nobody knows when it will be read. The year stands at
// the head of the report.
func (v voice) dated(t time.Time) string {
	if t.IsZero() {
		return "—"
	}
	return t.In(v.zone).Format("2 Jan") + nbsp + v.clock(t)
}

// datedYear is an instant at the head of the report.
func (v voice) datedYear(t time.Time) string {
	return t.In(v.zone).Format("2 Jan 2006") + nbsp + v.clock(t)
}

// aboutMold says what the mold is, and from when to when.
func (s *site) aboutMold(v voice, rep *report.Report) string {
	m := &rep.Mold
	parts := []string{"stands at " + m.Place}
	if m.Surface != "" && m.Surface != m.Place {
		parts[0] += ", felt at " + m.Surface
	}
	if m.Rubber != "" {
		parts = append(parts, "made of "+s.materialTitle(m.Rubber))
	}
	if built := buildWords(rep.Begun.Build); built != "" {
		parts = append(parts, built)
	}
	if method := rep.Begun.Design.Method; method != "" {
		parts = append(parts, "method: "+string(method))
	}
	if rep.Begun.Face != "" {
		parts = append(parts, "face: "+rep.Begun.Face)
	}
	text := sentence(strings.Join(parts, "; ")) + " " + sentence("begun", v.datedYear(m.Begun))
	if m.Open() {
		return text + " " + sentence("in work, told as of", v.datedYear(rep.At))
	}
	return text + " " + sentence("demolded", v.datedYear(m.Demolded))
}

func (v voice) paperStep(st report.Step) paperStep {
	out := paperStep{
		Title: st.Title, From: v.dated(st.Begun), To: "open", Took: "—", Room: "—",
		Min: v.temp(st.Warmth.MinC), Mean: v.temp(st.Warmth.MeanC), Max: v.temp(st.Warmth.MaxC), Missing: "—",
	}
	if !st.Ended.IsZero() {
		out.To, out.Took = v.dated(st.Ended), v.span(st.Ended.Sub(st.Begun))
	}
	if st.RoomTime > 0 {
		out.Room = v.span(st.RoomTime)
	}
	if st.Warmth.Missing > 0 {
		out.Missing = v.span(st.Warmth.Missing)
	}
	return out
}

// paperTold sets what was told of each step above what came of it; steps whose mark was withdrawn stand at
// the end.
func (v voice) paperTold(rep *report.Report) []paperTold {
	out := make([]paperTold, len(rep.Steps), len(rep.Steps)+1)
	index := map[int64]int{}
	for i := range rep.Steps {
		st := &rep.Steps[i].Step
		index[st.Mark] = i
		out[i] = paperTold{Title: st.Title, Came: v.cameOf(st)}
	}
	var gone paperTold
	for _, t := range rep.Told {
		row := v.toldOf(t)
		if t.Came == nil {
			gone.Title, gone.Gone = "Withdrawn since", true
			row.By = t.Step.Title + ", " + row.By
			gone.Rows = append(gone.Rows, row)
			continue
		}
		to := &out[index[t.Came.Mark]]
		to.Rows = append(to.Rows, row)
	}
	if gone.Gone {
		out = append(out, gone)
	}
	return out
}

// toldOf words what was told of a step at a mark.
func (v voice) toldOf(t report.Told) paperBand {
	row := v.bandRow(t.Step)
	row.When, row.By = v.dated(t.Mark.Entered), fmt.Sprintf("mark %d, %s", t.Mark.ID, t.Mark.Kind)
	if t.Came != nil && t.Came.Band.Told() && t.Step.Band.Told() {
		row.Off = v.offBy(t.Came.Band.Likely.Sub(t.Step.Band.Likely))
	}
	return row
}

// cameOf words what came of a step.
func (v voice) cameOf(st *model.Step) paperBand {
	row := v.bandRow(*st)
	row.By = headOf(st.Kind, st.Standing)
	switch {
	case st.Ended.IsZero():
		row.By = "so far: " + row.By
	case st.Band.Told():
		row.When = v.dated(st.Ended)
	default:
		row.When = v.dated(st.Ended)
		row.Cannot = fmt.Sprintf("about %s%s%% of the way when the work went on", decimal(100*st.Share, 0), nbsp)
	}
	return row
}

func (v voice) bandRow(st model.Step) paperBand {
	if !st.Band.Told() {
		why := strings.Join(st.Why, "; ")
		if !st.NotBefore.IsZero() {
			why += "; not before " + v.dated(ceil(st.NotBefore, time.Minute))
		}
		return paperBand{Cannot: sentence(string(st.Standing)+":", strings.TrimPrefix(why, "; "))}
	}
	b := st.Band // to the minute, not as coarse as for the bench: it is to be compared
	return paperBand{Earliest: v.dated(b.Earliest.Truncate(time.Minute)), Likely: v.dated(b.Likely.Round(time.Minute)), Latest: v.dated(ceil(b.Latest, time.Minute))}
}

// offBy words by how much later something came than was told.
func (v voice) offBy(d time.Duration) string {
	switch {
	case d.Abs() < 30*time.Second:
		return "as told"
	case d > 0:
		return v.span(d) + " later"
	}
	return v.span(d) + " earlier"
}

func (s *site) paperMark(v voice, e report.Entry) paperMark {
	out := paperMark{
		ID: e.ID, What: s.markTitle(e.Mark), At: v.dated(e.At), Note: e.Note,
		Gone: e.State != report.InEffect,
	}
	if e.Kind == model.Withdrawn {
		out.What, out.At = fmt.Sprintf("withdraws mark %d", e.Corrects), "—"
	}
	out.Entered = v.dated(e.Entered)
	if e.Late > 0 {
		out.Entered += ", " + v.span(e.Late) + " late"
	}
	out.Entered += byWords(e.Mark)
	switch {
	case e.State == report.Corrected:
		out.Became = fmt.Sprintf("corrected by mark %d", e.By)
	case e.State == report.Withdrawn:
		out.Became = fmt.Sprintf("withdrawn by mark %d", e.By)
	case e.State == report.LeftOut:
		out.Became = "left out: it does not fit the shop's materials and places of today"
	case e.Corrects != 0 && e.Kind != model.Withdrawn:
		out.Became = fmt.Sprintf("instead of mark %d", e.Corrects)
	}
	return out
}

func (s *site) paperMaterial(m report.Material) paperMaterial {
	of, _ := s.opts.Shelf.Find(m.Name) // what is not on the shelf has no ratio to compare with
	out := paperMaterial{Title: m.Title, Of: strings.Join(m.Of, ", "), Sources: m.Sources}
	if out.Of == "" {
		out.Of = "planned"
	}
	for _, b := range m.Batches {
		out.Batches = append(out.Batches, batchWords(b, of))
	}
	return out
}
