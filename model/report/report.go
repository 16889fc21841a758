// Package report puts together what is to be said of one mold when it is done, or as far as it has come:
// the temperatures it really had, its marks with their history, and what was told of it beside what came.
package report

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"pourward/model"
	"pourward/model/loop"
	"pourward/model/material"
)

// Report is the record of one mold.
type Report struct {
	At        time.Time         // the instant up to which the record was read
	Mold      model.MoldOutlook // how it stands, or stood when it was off
	Begun     model.Mark        // the mark by which it was begun
	Steps     []Step            // in order of time
	Marks     []Entry           // in the order in which they were entered, those that are not in effect any more included
	Told      []Told            // in the same order
	Materials []Material        // in the order in which they were first used
	Felt      []model.Stretch   // from its beginning to its end
}

// Step is a step as it came, with the warmth it had.
type Step struct {
	model.Step
	Warmth Warmth
}

// Told is what was told of one step when a mark was entered, beside what came.
type Told struct {
	Mark model.Mark
	Step model.Step  // as it was told
	Came *model.Step // the same step as it came; nil where its mark was withdrawn
}

// State says what became of a mark.
type State string

const (
	InEffect  State = "in effect"
	Corrected State = "corrected"
	Withdrawn State = "withdrawn"
	LeftOut   State = "left out" // it does not fit the materials and places of today
)

// Entry is a mark with what became of it.
type Entry struct {
	model.Mark
	State State
	By    int64         // the mark that corrected or withdrew it; 0 = none
	Late  time.Duration // how long after it happened it was entered; 0 = at once
}

// lateAfter is how long after something happened a mark counts as entered late.
const lateAfter = 2 * time.Minute

// Material is something that was used, with where its numbers are from.
type Material struct {
	Name, Title string
	Of          []string // titles of the steps it was used in
	Sources     []string
	Batches     []model.Batch // what was told of each cup, in order
}

// ErrNoMold means that the record knows no such mold.
var ErrNoMold = errors.New("no mold of this name is on record; look up its short name on the page")

// Read reads the report of a mold out of a record. now is the instant up to which the mold is told of, if
// it is not off.
func Read(ctx context.Context, past loop.Past, name string, now time.Time) (*Report, error) {
	all, err := past.Record.Marks(ctx)
	if err != nil {
		return nil, fmt.Errorf("read the marks on record: %w", err)
	}
	marks := slices.DeleteFunc(all, func(m model.Mark) bool { return m.Mold != name })
	if len(marks) == 0 {
		return nil, fmt.Errorf("report of %q: %w", name, ErrNoMold)
	}
	r := &Report{At: closing(marks, now)}
	o, err := past.Outlook(ctx, r.At)
	if err != nil {
		return nil, err
	}
	m, ok := o.Mold(name)
	if !ok {
		return nil, fmt.Errorf("report of %q: it was never begun, or that was withdrawn", name)
	}
	r.Mold = *m
	r.enter(marks)
	if err := r.feel(ctx, past, marks); err != nil {
		return nil, err
	}
	err = past.Retell(ctx, marks[0].ID, marks[len(marks)-1].ID, r.told)
	if err != nil {
		return nil, err
	}
	r.materials(past.Setup.Shelf)
	return r, nil
}

// after is how long after its end a mold is looked at: long enough that the readings on both sides of the
// end are known, and within the time that a mold is told of.
const after = time.Hour

// closing is the instant at which to look at a mold: an hour after its last mark if it is off, else now.
func closing(marks []model.Mark, now time.Time) time.Time {
	off := slices.ContainsFunc(effective(marks), func(m model.Mark) bool { return m.Kind == model.Demolded })
	if !off {
		return now
	}
	var end time.Time
	for _, m := range effective(marks) {
		if m.Kind == model.Demolded {
			end = m.At
		}
	}
	for _, m := range effective(marks) {
		if m.At.After(end) && m.At.Before(end.Add(24*time.Hour)) { // touched once more
			end = m.At
		}
	}
	return end.Add(after)
}

// effective leaves out what was corrected or withdrawn.
func effective(marks []model.Mark) []model.Mark {
	gone := map[int64]bool{}
	for _, m := range marks {
		gone[m.Corrects] = true
	}
	return slices.DeleteFunc(slices.Clone(marks), func(m model.Mark) bool { return gone[m.ID] || m.Kind == model.Withdrawn })
}

// enter lists the marks with their history.
func (r *Report) enter(marks []model.Mark) {
	by := map[int64]model.Mark{}
	for _, m := range marks {
		if m.Corrects != 0 {
			by[m.Corrects] = m
		}
	}
	held := map[int64]bool{}
	for _, m := range r.Mold.Marks {
		held[m.ID] = true
		if m.Kind == model.Begun {
			r.Begun = m
		}
	}
	for _, m := range marks {
		e := Entry{Mark: m, State: InEffect}
		if next, ok := by[m.ID]; ok {
			e.State, e.By = Corrected, next.ID
			if next.Kind == model.Withdrawn {
				e.State = Withdrawn
			}
		} else if !held[m.ID] && m.Kind != model.Withdrawn {
			e.State = LeftOut
		}
		if late := m.Entered.Sub(m.At); late > lateAfter && m.Kind != model.Withdrawn {
			e.Late = late
		}
		r.Marks = append(r.Marks, e)
	}
}

// told keeps what was told when a mark of the mold had been taken.
func (r *Report) told(mark model.Mark, o *model.Outlook) error {
	m, ok := o.Mold(r.Mold.Name)
	if mark.Mold != r.Mold.Name || !ok {
		return nil
	}
	for _, s := range m.Steps {
		if s.Standing != model.Closed {
			r.Told = append(r.Told, Told{Mark: mark, Step: s, Came: r.came(s.Mark)})
		}
	}
	return nil
}

// came is the step that a mark began in the end, though it may have been corrected since.
func (r *Report) came(mark int64) *model.Step {
	for _, e := range r.Marks {
		if e.ID == mark && e.By != 0 {
			mark = e.By // corrections come later, so one pass finds the last
		}
	}
	for i := range r.Steps {
		if r.Steps[i].Mark == mark {
			return &r.Steps[i].Step
		}
	}
	return nil
}

// materials lists what was used, in the order of the steps, then what was only planned.
func (r *Report) materials(shelf *material.Shelf) {
	for _, s := range r.Steps {
		m := r.material(shelf, s.Material)
		m.Of = append(m.Of, s.Title)
		for _, source := range s.Sources {
			if !slices.Contains(m.Sources, source) {
				m.Sources = append(m.Sources, source)
			}
		}
		for _, mark := range r.Mold.Marks {
			if mark.ID == s.Mark && mark.Batch.Told() {
				m.Batches = append(m.Batches, mark.Batch)
			}
		}
	}
	if r.Begun.Material != "" {
		r.material(shelf, r.Begun.Material)
	}
}

func (r *Report) material(shelf *material.Shelf, name string) *Material {
	for i := range r.Materials {
		if r.Materials[i].Name == name {
			return &r.Materials[i]
		}
	}
	m := Material{Name: name, Title: name}
	if shelf == nil {
		shelf = material.Generic()
	}
	if of, err := shelf.Find(name); err == nil && of.Title != "" {
		m.Title = of.Title
	}
	r.Materials = append(r.Materials, m)
	return &r.Materials[len(r.Materials)-1]
}
