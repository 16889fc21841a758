package page

import (
	"fmt"
	"math"
	"strings"
	"time"

	"pourward/model/plan"
)

// planTold is a plan in words and drawn.
type planTold struct {
	Class string // of the box: empty where it holds
	Head  string
	Says  []string // about the shop as it is
	Heat  string   // what heating would buy
	Start string   // of which the rows tell
	Rows  []planRow
	Lanes lanes
	Temp  drawing
	Fan   bool
}

// planRow is one action of the time line.
type planRow struct {
	What, Of, At, Between, Ready, Why string
	action                            plan.Action
}

// planTold words a plan.
func (v voice) planTold(p *planned) *planTold {
	t := &planTold{Head: v.planHead(p), Says: v.planSays(p), Heat: v.heatSays(p)}
	if p.plain.Verdict != plan.Holds {
		t.Class = "now"
	}
	if p.plain.Begin.IsZero() {
		return t
	}
	t.Start = "Begun " + v.at(p.plain.Begin)
	before := plan.Kind("")
	for _, a := range p.plain.Actions {
		t.Rows = append(t.Rows, v.planRow(a, before))
		before = a.Kind
	}
	v.drawPlan(p, t)
	return t
}

// planHead is the answer in a few words.
func (v voice) planHead(p *planned) string {
	switch p.plain.Verdict {
	case plan.Holds:
		return "Begin by " + v.at(p.plain.Latest)
	case plan.TooLate:
		return "Not by " + v.at(p.ask.By)
	}
	return "Cannot say yet"
}

// ways words a share of the paths.
func ways(share float64) string {
	if share == 0 {
		return "none of the ways the air may go"
	}
	return fmt.Sprintf("%d of 100 ways the air may go", int(math.Floor(share*100+1e-9)))
}

// planSays are sentences about the shop as it is.
func (v voice) planSays(p *planned) []string {
	var out []string
	plain := p.plain
	asked := !p.ask.Begin.IsZero()
	switch plain.Verdict {
	case plan.Holds:
		if !asked {
			out = append(out, sentence("begun then it is demolded by", v.at(p.ask.By), "on", ways(plain.Share)+"; begun five minutes of work later, on fewer than nine in ten"))
		} else {
			out = append(out, "That is the latest start that holds on nine in ten of the ways the air may go.")
		}
	case plan.TooLate:
		out = append(out, v.tooLate(p))
	case plan.CannotSay:
		out = append(out, sentence(v.at(p.ask.By), "lies beyond the three days that can be forecast; ask again from", v.at(plain.AskFrom), "on"))
	}
	if asked && !math.IsNaN(plain.Share) {
		out = append(out, sentence("begun", v.at(plain.Begin), "it is in time on", ways(plain.Share)))
	}
	if plain.Verdict != plan.Holds {
		out = append(out, v.soonest(plain))
	}
	for i, b := range plain.Blocks {
		if i == 3 {
			break
		}
		out = append(out, sentence(b.Title, "does not come about on", ways(b.On)+":", blockWords(b.Hold)))
	}
	return out
}

func (v voice) tooLate(p *planned) string {
	switch {
	case p.plain.Begin.IsZero():
		return "No working hours are left within the three days that can be forecast."
	case !p.ask.Begin.IsZero():
		return "No start from now on holds on nine in ten of the ways the air may go."
	}
	return sentence("even begun at the first chance,", v.at(p.plain.Begin)+", it is in time on", ways(p.plain.Share))
}

// blockWords says what stands against an action for good.
func blockWords(h plan.Hold) string {
	if h == plan.OffHours {
		return "no working hours are left for it within the three days that can be forecast"
	}
	return h.String()
}

// soonest says which deadline would hold.
func (v voice) soonest(p *plan.Plan) string {
	if p.Soonest.IsZero() {
		return "No deadline within the three days that can be forecast holds on nine in ten."
	}
	return sentence("begun at the first chance, nine in ten are done by", v.at(p.Soonest))
}

// heatSays compares with the shop heated.
func (v voice) heatSays(p *planned) string {
	at := "At " + v.temp(p.heat.TempC)
	if len(p.heat.Hours) > 0 {
		at += " " + p.heat.Hours.String()
	}
	if p.heat.From.Sub(v.now) > time.Minute {
		at += " from " + v.at(p.heat.From) + " on"
	} else {
		at += " from now on"
	}
	return at + ": " + v.bought(p.plain, p.warm)
}

// bought is what heat buys.
func (v voice) bought(plain, warm *plan.Plan) string {
	switch {
	case warm.Verdict == plan.Holds && plain.Verdict == plan.Holds && warm.Latest.After(plain.Latest):
		return fmt.Sprintf("start as late as %s instead of %s.", v.at(warm.Latest), v.at(plain.Latest))
	case warm.Verdict == plan.Holds && plain.Verdict == plan.Holds:
		return "no later start; heat buys nothing here."
	case warm.Verdict == plan.Holds:
		return fmt.Sprintf("it can be done; start by %s.", v.at(warm.Latest))
	case warm.Soonest.IsZero():
		return "not within the three days that can be forecast either."
	case plain.Soonest.IsZero():
		return fmt.Sprintf("begun at the first chance, nine in ten are done by %s.", v.at(warm.Soonest))
	case warm.Soonest.Before(plain.Soonest):
		return fmt.Sprintf("begun at the first chance, nine in ten are done by %s instead of %s.", v.at(warm.Soonest), v.at(plain.Soonest))
	}
	return "no sooner; heat buys nothing here."
}

// planRow words an action that follows another; before is empty for the first.
func (v voice) planRow(a plan.Action, before plan.Kind) planRow {
	r := planRow{What: a.Title, Of: a.Material, At: v.orBeyond(a.Begin.Likely), action: a}
	r.Between = v.orBeyond(a.Begin.Early) + " to " + v.orBeyond(a.Begin.Late)
	if a.Begin.Early.Equal(a.Begin.Late) && !a.Begin.Early.IsZero() {
		r.Between = v.at(a.Begin.Early)
	}
	if before != "" {
		r.Ready = v.orBeyond(a.Ready.Likely)
	}
	r.Why = why(a, before)
	return r
}

// why says what an action waits for.
func why(a plan.Action, before plan.Kind) string {
	var parts []string
	switch before {
	case plan.CoatOn, plan.ReleaseOn:
		parts = append(parts, "what is on is dry")
	case plan.Pour:
		parts = append(parts, "cured")
	case plan.Layer:
		if a.Kind == plan.Layer {
			parts = append(parts, "the layer before takes it")
		} else {
			parts = append(parts, "all layers are cured")
		}
	case plan.Demold:
		parts = append(parts, "the mold before is off")
	}
	if a.Held != plan.NoHold && a.HeldOn >= 0.1 {
		parts = append(parts, "waits on "+ways(a.HeldOn)+": "+a.Held.String())
	}
	return sentence(strings.Join(parts, "; "))
}

func (v voice) orBeyond(t time.Time) string {
	if t.IsZero() {
		return "cannot say"
	}
	return v.at(t)
}
