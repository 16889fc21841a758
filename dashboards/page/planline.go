package page

import (
	"fmt"
	"strings"
	"time"

	"pourward/model"
	"pourward/model/plan"
)

// lanes are the actions of a plan one under the other, over the same time as the forecast below them.
type lanes struct {
	W, H    float64
	Label   string // says the same in words
	Top     float64
	Shut    []box // outside the working hours
	Grid    []tick
	Lanes   []lane
	By, ByX float64 // the deadline and its word
}

// lane is one action: what it waits for, filled; its own band; and the instant that is planned.
type lane struct {
	Kind         string
	Name         string
	TextX, TextY float64
	Before       bool   // the name ends at TextX
	Wet          string // path of what dries or cures until it is ready
	Held         string // path from ready to begun
	Band, Peg    string // paths; Peg is empty where it cannot be said
}

const (
	laneHeight = 40.0
	laneBar    = 13.0
)

// drawPlan draws the time line and, over the same time, the forecast.
func (v voice) drawPlan(p *planned, t *planTold) {
	from := earlier(v.now, p.plain.Begin)
	to := p.ask.By
	if p.plain.Verdict == plan.CannotSay {
		to = p.plain.Begin.Add(time.Hour)
	}
	for _, a := range p.plain.Actions {
		to = later(to, later(a.Begin.Likely, a.Begin.Late))
	}
	ts := timeScale{from: from, to: to.Add(to.Sub(from) / 20), x0: panelLeft, x1: drawingWidth - 1}
	t.Lanes = v.lanes(p, ts)
	ahead := foretold(model.ReachOf(p.sight.Paths)).within(later(from, p.sight.At), ts.to)
	panel := v.tempPanel([]track{{class: "around", name: "in the air", ahead: ahead}}, p.pourWindow(), ts, 0)
	t.Temp = drawing{W: drawingWidth, Big: true, GridTop: panel.Frame.Y, Label: "Temperature at " + p.sight.Place + "." + v.aheadWords(ahead)}
	t.Temp.hang(ts, v, panel)
	t.Temp.Now = nil
	t.Fan = ahead != nil
}

func (v voice) lanes(p *planned, ts timeScale) lanes {
	l := lanes{W: drawingWidth, Top: nowRow, Label: v.lanesWords(p)}
	y := nowRow + 4
	before := p.plain.Begin
	for i, a := range p.plain.Actions {
		l.Lanes = append(l.Lanes, v.lane(a, before, i == 0, ts, y))
		before = a.Begin.Likely
		y += laneHeight
	}
	l.H = y
	l.Grid = ts.ticks(v, 5)
	at := ts.from
	for _, s := range p.ask.Hours.Within(ts.from, ts.to, v.zone) {
		l.shut(at, s.From, ts)
		at = s.To
	}
	l.shut(at, ts.to, ts)
	if ts.holds(p.ask.By) {
		l.By = tenth(ts.x(p.ask.By))
		l.ByX = min(drawingWidth-40, max(40, l.By))
	}
	return l
}

// shut shades a stretch in which nobody is there.
func (l *lanes) shut(from, to time.Time, ts timeScale) {
	x0, x1 := ts.x(from), ts.x(to)
	if x1-x0 > 0.5 {
		l.Shut = append(l.Shut, box{tenth(x0), l.Top, tenth(x1 - x0), tenth(l.H - l.Top)})
	}
}

// lane draws one action at a height.
func (v voice) lane(a plan.Action, before time.Time, first bool, ts timeScale, y float64) lane {
	out := lane{Kind: string(a.Kind), Name: a.Title, TextX: ts.x0 + 4, TextY: tenth(y + 15)}
	top, end := y+21, y+21+laneBar
	if !a.Begin.Likely.IsZero() {
		out.Name += ", " + strings.ReplaceAll(v.at(a.Begin.Likely), nbsp, " ")
		x := ts.x(a.Begin.Likely)
		if room := letter * float64(len(out.Name)); x > (ts.x0+ts.x1)/2 && room < ts.x1-ts.x0 {
			out.TextX, out.Before = tenth(ts.x1-4), true
		}
		out.Peg = peg(x, top, end)
	}
	if !first && !before.IsZero() {
		ready := ts.x1
		if !a.Ready.Likely.IsZero() {
			ready = ts.x(a.Ready.Likely)
		}
		out.Wet = rectPath(ts.x(before), ready, top+3, end-3)
		if !a.Begin.Likely.IsZero() {
			out.Held = rectPath(ready, ts.x(a.Begin.Likely), top+3, end-3)
		}
	}
	if !a.Begin.Early.IsZero() {
		x1 := ts.x1
		if !a.Begin.Late.IsZero() {
			x1 = ts.x(a.Begin.Late)
		}
		out.Band = bracket(ts.x(a.Begin.Early), x1, top, end, !a.Begin.Late.IsZero())
	}
	return out
}

// peg stands at the planned instant.
func peg(x, top, end float64) string {
	var p pen
	mid := (top + end) / 2
	p.move(x-4.5, mid)
	p.line(x, top-1)
	p.line(x+4.5, mid)
	p.line(x, end+1)
	p.close()
	return p.String()
}

// bracket spans from early to late; its right end is left open where that cannot be said.
func bracket(x0, x1, top, end float64, closed bool) string {
	var p pen
	mid := (top + end) / 2
	p.move(x0, top)
	p.line(x0, end)
	p.move(x0, mid)
	p.line(x1, mid)
	if closed {
		p.move(x1, top)
		p.line(x1, end)
	}
	return p.String()
}

// lanesWords says what the time line shows.
func (v voice) lanesWords(p *planned) string {
	var parts []string
	for _, a := range p.plain.Actions {
		parts = append(parts, fmt.Sprintf("%s (%s): %s", a.Title, a.Material, v.orBeyond(a.Begin.Likely)))
	}
	return "The time line. " + strings.Join(parts, "; ") + "."
}
