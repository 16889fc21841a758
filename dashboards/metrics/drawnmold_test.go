package metrics_test

import (
	"math/rand/v2"
	"slices"
	"time"

	"pourward/model"
)

type drawnMold struct {
	open, poured bool
	begun        time.Time // of every step
	steps        [4]model.Step
	window       model.Step
	reasons      []model.Reason
	doubt        *model.Doubt
	marks        []model.Mark
}

// mold is begun, poured, demolded and, by corrections, back again; its steps stand where they like. For the
// second no batch was mixed, so that its coats are at work for long.
func (d *drawn) mold(i int, name string, now time.Time) model.MoldOutlook {
	m := &d.molds[i]
	if m.open && d.turns(60) || !m.open && d.turns(10) {
		m.open = !m.open
	}
	if !m.poured && d.turns(60) || m.poured && d.turns(40) {
		m.poured = !m.poured
	}
	if d.turns(20) {
		m.reasons = [][]model.Reason{nil, {{Code: model.ReasonDew}}, {{Code: model.ReasonSurface, Caution: true}}, {{Code: model.ReasonNoAir}, {Code: model.ReasonCoat}}}[d.IntN(4)]
	}
	d.touch(m, now)
	out := model.MoldOutlook{
		Name: name, Place: []string{"bench", "shelf"}[i], Begun: at(7, 0), Poured: m.poured,
		Pour: model.Fitness{Verdict: model.NotFit, Reasons: m.reasons}, Marks: slices.Clone(m.marks),
	}
	if m.poured {
		out.Doubt = m.doubt
	}
	if !m.open {
		out.Demolded = now
	}
	if d.turns(250) {
		m.begun = now
	}
	for j, kind := range []model.StepKind{model.CoatDry, model.ReleaseDry, model.WorkingLife, model.DemoldTime} {
		if i == 1 && kind == model.WorkingLife {
			continue
		}
		if m.steps[j].Name == "" || d.turns([]int{6, 12, 6, 30}[j]) {
			m.steps[j] = d.stepOf(kind, now)
		}
		m.steps[j].Begun = m.begun
		out.Steps = append(out.Steps, m.steps[j])
	}
	m.layer(d.windows, now)
	m.window.Begun = m.begun
	out.Steps = append(out.Steps, m.window)
	return out
}

// layer draws a layer window anew now and then.
func (m *drawnMold) layer(draw *rand.Rand, now time.Time) {
	if m.window.Name != "" && draw.IntN(6) > 0 {
		return
	}
	opens := now.Add(time.Duration(draw.IntN(240)-180) * time.Minute)
	band := func(at time.Time) model.Band {
		return model.Band{Earliest: at, Likely: at.Add(20 * time.Minute), Latest: at.Add(40 * time.Minute)}
	}
	m.window = model.Step{Kind: model.LayerWindow, Name: "layer-1"}
	m.window.Standing = model.Standings()[draw.IntN(len(model.Standings()))]
	if draw.IntN(3) > 0 {
		m.window.Band = band(opens)
	}
	if draw.IntN(3) > 0 {
		m.window.Closes = band(opens.Add(2 * time.Hour))
	}
}

// touch marks a check now and then, and lets it say what it likes.
func (d *drawn) touch(m *drawnMold, now time.Time) {
	if d.turns(40) {
		m.marks = append(m.marks, model.Mark{Kind: model.Checked, Of: []model.Subject{model.Cup, model.Coat}[d.IntN(2)], At: now})
	}
	if !d.turns(25) {
		return
	}
	m.doubt = nil
	if !d.turns(5) {
		m.doubt = &model.Doubt{Verdict: "cannot say yet", Next: "Touch the cup.", NothingWrong: 1}
	}
	if m.doubt != nil && d.turns(3) {
		m.doubt.NextAt = now.Add(time.Duration(d.IntN(40)) * time.Minute)
	}
	if m.doubt != nil && d.turns(5) {
		m.doubt.Verdict = "wait"
	}
	if m.doubt != nil && d.turns(5) {
		m.doubt.Next = ""
	}
}

// stepOf is told for some time of the day, or of none.
func (d *drawn) stepOf(kind model.StepKind, now time.Time) model.Step {
	standings := model.Standings()
	if kind == model.DemoldTime { // the alerts of cures need two of them for long
		standings = append(standings, model.Maybe, model.Maybe, model.CannotSay, model.CannotSay)
	}
	s := model.Step{Kind: kind, Name: string(kind) + "-1"}
	s.Standing = standings[d.IntN(len(standings))]
	begin := now.Add(time.Duration(d.IntN(240)-180) * time.Minute)
	switch d.IntN(4) {
	case 0:
		s.NotBefore = begin
	case 1:
	default:
		s.Band = model.Band{Earliest: begin, Likely: begin.Add(20 * time.Minute), Latest: begin.Add(40 * time.Minute)}
	}
	if kind == model.DemoldTime && begin.Minute()%2 == 0 { // as good as drawn, and the other draws stay
		s.ColdFrom = begin
	}
	return s
}
