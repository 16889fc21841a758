package page

import (
	"fmt"
	"slices"
	"strconv"

	"pourward/model"
)

// markRow is a mark in the list, with the forms to correct it.
type markRow struct {
	ID                int64
	When, What, Note  string
	Build             string // what the mold is made of, where it was told
	Batch             string // what was weighed
	About             string // number, and how it came in
	Correct, Withdraw markForm
}

// markRows lists the marks in effect, the newest first, each with its forms.
func (s *site) markRows(v voice, m *model.MoldOutlook, failed *attempt) []markRow {
	out := make([]markRow, 0, len(m.Marks))
	for _, mark := range slices.Backward(m.Marks) {
		row := markRow{ID: mark.ID, When: v.at(mark.At), What: s.markTitle(mark), Note: mark.Note, Build: sentence(buildWords(mark.Build))}
		row.Batch = sentence(batchWords(mark.Batch, s.weighedIn(m, mark)))
		row.About = fmt.Sprintf("mark %d", mark.ID) + byWords(mark)
		if late := mark.Entered.Sub(mark.At); late > lateAfter {
			row.About += ", entered " + v.near(mark.Entered, mark.At)
		}
		if mark.Corrects != 0 {
			row.About += fmt.Sprintf(", instead of mark %d", mark.Corrects)
		}
		id := strconv.FormatInt(mark.ID, 10)
		row.Correct = s.form(typedOf(v, mark), m)
		row.Withdraw = s.form(entry{Kind: string(model.Withdrawn), Mold: m.Name, Corrects: id, Seen: seen(m)}, m)
		if failed != nil && failed.Corrects == id {
			row.putBack(s.form(failed.entry, m), failed.complaint)
		}
		out = append(out, row)
	}
	return out
}

// putBack puts a failed attempt into the form it came from.
func (r *markRow) putBack(f markForm, complaint string) {
	f.Open, f.Complaint = true, complaint
	if f.Kind == string(model.Withdrawn) {
		r.Withdraw = f
		return
	}
	r.Correct = f
}

// typedOf is a mark as it would be typed to correct it.
func typedOf(v voice, m model.Mark) entry {
	return entry{
		Kind: string(m.Kind), Mold: m.Mold, Corrects: strconv.FormatInt(m.ID, 10), At: m.At.In(v.zone).Format(stamp),
		Title: m.Title, Place: m.Place, Surface: m.Surface, Material: m.Material,
		Of: string(m.Of), Found: string(m.Found), Note: m.Note, Seen: strconv.FormatInt(m.ID, 10), built: builtOf(m.Build), worked: workedOf(m),
	}
}

// byWords says who entered a mark, where that is known.
func byWords(m model.Mark) string {
	if m.EnteredBy == "" {
		return ""
	}
	return ", by " + m.EnteredBy
}

func (s *site) markTitle(m model.Mark) string {
	if m.Kind == model.Begun && m.Material != "" {
		return "begun, for " + s.materialTitle(m.Material)
	}
	if m.Material != "" {
		return string(m.Kind) + ": " + s.materialTitle(m.Material)
	}
	return markWords(m)
}
