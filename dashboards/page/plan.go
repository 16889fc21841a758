package page

import (
	"context"
	"net/http"
	"slices"

	"pourward/model"
	"pourward/model/material"
	"pourward/model/plan"
)

// planPath is where a deadline is planned back from.
const planPath = "/plan"

// planView is the page of a plan.
type planView struct {
	frame
	Form     planForm
	Problem  string // what was asked cannot be planned
	Result   *planTold
	Cautions []string
}

// planned is what came of a wish: as the shop is, and heated.
type planned struct {
	sight       plan.Sight
	ask         plan.Request
	plain, warm *plan.Plan
	heat        plan.Heat
}

// plan shows the form and, where something is asked, the plan.
func (s *site) plan(w http.ResponseWriter, r *http.Request) {
	if s.opts.Sight == nil {
		s.notFound(w, r)
		return
	}
	snap, v := s.look(r)
	wished := s.formed(r.URL.Query(), v)
	var done *planned
	problem := ""
	if wished.asked {
		var err error
		if done, err = s.reckon(r.Context(), v, wished); err != nil {
			problem = sentence(err.Error())
		}
	}
	status := http.StatusOK
	if problem != "" {
		status = http.StatusUnprocessableEntity
	}
	if wantsJSON(r) {
		s.planJSON(w, v, status, problem, done)
		return
	}
	view := planView{frame: s.frame(v, snap, "Plan back from a deadline", r.URL.RequestURI()), Form: s.planForm(wished, outlookOf(snap)), Problem: problem}
	view.Here, view.Again = planPath, planPath
	if done != nil {
		view.Result = v.planTold(done)
		view.Cautions = done.cautions()
	}
	s.render(w, r, status, "plan", view)
}

// reckon plans a wish. Only one plan is reckoned at a time, so that the shop's small board has time for its probes.
func (s *site) reckon(ctx context.Context, v voice, w wish) (*planned, error) {
	ask, heat, err := w.request(v)
	if err != nil {
		return nil, err
	}
	select {
	case s.planning <- struct{}{}:
		defer func() { <-s.planning }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	out := &planned{heat: heat}
	if ask.Sight, err = s.opts.Sight(ctx, w.Place); err != nil {
		return nil, err
	}
	if out.plain, err = plan.Make(ask); err != nil {
		return nil, err
	}
	out.sight, out.ask = ask.Sight, ask
	ask.Heat = &heat
	if out.warm, err = plan.Make(ask); err != nil {
		return nil, err
	}
	return out, nil
}

// cautions are those of everything in the course, and of heating near it.
func (p *planned) cautions() []string {
	out := []string{material.CautionHeater}
	for _, it := range p.ask.Course {
		for _, c := range p.sight.Stuffs[it.Material].Of.Cautions {
			if !slices.Contains(out, c) {
				out = append(out, c)
			}
		}
	}
	return out
}

// pourWindow is the range to pour in of the last thing that is poured.
func (p *planned) pourWindow() *model.PlaceOutlook {
	last := p.ask.Course[len(p.ask.Course)-1]
	w := p.sight.Stuffs[last.Material].Of.Pour
	if w == (material.Window{}) {
		return nil
	}
	return &model.PlaceOutlook{PourMinC: w.MinC, PourMaxC: w.MaxC}
}
