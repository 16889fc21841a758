package page

import (
	"fmt"
	"strings"
	"time"

	"pourward/model"
)

// drawing is a picture over time. Its upper part, the section, shows a mold cut through: the pattern
// at the bottom, each layer on top of it from the moment it went on, the cup above them all. What is
// still wet or uncured is filled; it tapers from the earliest over the likely to the latest time of
// the band. Panels of measured values may hang below, over the same time.
type drawing struct {
	W, H   float64
	Label  string // says the same in words
	Big    bool
	Base   *box
	Layers []layer
	Panels []panel
	Grid   []tick // X, from GridTop to GridEnd
	Now    *nowLine

	GridTop, GridEnd, LabelY float64
}

type box struct{ X, Y, W, H float64 }

// layer is one step of a mold, drawn.
type layer struct {
	Kind, Name string
	Body       box
	Wet        string // path of what is still wet, with its taper
	Open       string // path of the time of which nothing can be said
	Doubt      bool

	LabelX, LabelY float64
	Before, Inside bool // where the label stands; neither: behind what is filled
}

// nowLine is the plumb line at the instant of the outlook.
type nowLine struct{ X, Top, End, LabelX, TextY float64 }

const (
	drawingWidth = 360.0 // units; one unit is about a pixel on a phone, less on the smallest
	panelLeft    = 42.0  // room for the values left of a panel
	letter       = 9.0   // units a letter takes, where the style sheet writes the largest
	nowRow       = 18.0  // height of the word above the plumb line
	axisRow      = 22.0  // height of the labels below
)

// thickness of what a section shows.
type thickness struct{ cup, gap, coat, release, cure, base float64 }

func thicknessOf(big bool, coats int) thickness {
	t := thickness{cup: 13, gap: 5, coat: 13, release: 9, cure: 30, base: 10}
	if big {
		t = thickness{cup: 20, gap: 6, coat: 19, release: 19, cure: 38, base: 14}
	}
	if room := 6 * t.coat; float64(coats)*t.coat > room {
		t.coat = room / float64(coats)
	}
	return t
}

func (t thickness) of(k model.StepKind) float64 {
	switch k {
	case model.CoatDry, model.LayerWindow:
		return t.coat
	case model.ReleaseDry:
		return t.release
	case model.WorkingLife:
		return t.cup
	}
	return t.cure
}

// section draws a mold; big leaves room for names and for panels with labels at the left.
func (v voice) section(m *model.MoldOutlook, big bool) drawing {
	ts := timeScale{x0: 1, x1: drawingWidth - 1}
	if big {
		ts.x0 = panelLeft
	}
	ts.from, ts.to = v.stretch(m)
	d := drawing{W: drawingWidth, Label: v.sectionWords(m), Big: big, GridTop: nowRow}

	steps := drawnSteps(m)
	coats, cups := countSteps(steps)
	th := thicknessOf(big, coats)
	bottom := nowRow + th.gap
	if cups > 0 {
		bottom += th.cup + th.gap
	}
	for _, s := range steps {
		if s.Kind != model.WorkingLife {
			bottom += th.of(s.Kind)
		}
	}
	y := bottom
	for _, s := range steps {
		h, top := th.of(s.Kind), nowRow+th.gap
		if s.Kind != model.WorkingLife {
			y -= h
			top = y
		}
		d.Layers = append(d.Layers, v.layer(s, ts, top, top+h))
	}
	d.Base = &box{ts.x0, tenth(bottom), ts.x1 - ts.x0, th.base}
	d.finish(ts, bottom+th.base, v)
	return d
}

func countSteps(steps []model.Step) (coats, cups int) {
	for _, s := range steps {
		switch s.Kind {
		case model.CoatDry, model.ReleaseDry, model.LayerWindow:
			coats++
		case model.WorkingLife:
			cups++
		}
	}
	return coats, cups
}

// finish places the axis and the plumb line below end.
func (d *drawing) finish(ts timeScale, end float64, v voice) {
	d.GridEnd, d.LabelY, d.H = tenth(end), tenth(end+axisRow-5), tenth(end+axisRow)
	d.Grid = nil
	for _, t := range ts.ticks(v, 5) {
		// No label is cut, or meets the lowest value.
		if t.X-t.half() >= max(0, ts.x0-4) && t.X+t.half() <= drawingWidth {
			d.Grid = append(d.Grid, t)
		}
	}
	d.Now = nil
	if ts.holds(v.now) {
		x := tenth(ts.x(v.now))
		d.Now = &nowLine{X: x, Top: nowRow, End: tenth(end), LabelX: min(drawingWidth-20, max(20, x)), TextY: nowRow - 4}
	}
}

// stretch is the time a mold's drawing covers: from its first step to the last time told of it.
func (v voice) stretch(m *model.MoldOutlook) (from, to time.Time) {
	from = m.Begun
	if len(m.Steps) > 0 {
		from = m.Steps[0].Begun
	}
	if !m.Open() {
		return from, later(m.Demolded, from.Add(time.Hour))
	}
	to = v.now
	for _, s := range m.Steps {
		if s.Standing == model.CannotSay || s.Standing == model.Doubtful {
			to = later(to, later(s.NotBefore, v.now.Add(v.now.Sub(from)/4)))
			continue
		}
		to = later(to, later(s.Band.Latest, s.Closes.Latest))
	}
	to = to.Add(max(to.Sub(from)/16, 5*time.Minute))
	return from, later(to, from.Add(time.Hour))
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// layer draws one step between y0 (top) and y1.
func (v voice) layer(s model.Step, ts timeScale, y0, y1 float64) layer {
	x0, x1 := ts.x(s.Begun), ts.x1
	if s.Kind == model.WorkingLife && !s.Ended.IsZero() {
		x1 = max(ts.x(s.Ended), x0+3)
	}
	if s.Kind == model.LayerWindow {
		x1 = windowEnd(s, ts)
	}
	l := layer{Kind: string(s.Kind), Name: s.Title, Body: box{tenth(x0), tenth(y0), tenth(x1 - x0), tenth(y1 - y0)}, Doubt: s.Standing == model.Doubtful}
	l.place(ts, wetEnd(s, ts, x1))
	switch {
	case s.Standing == model.CannotSay:
		known := min(x1, ts.x(later(v.now, s.NotBefore)))
		l.Wet, l.Open = rectPath(x0, known, y0, y1), rectPath(known, x1, y0, y1)
	case s.Standing == model.Doubtful:
		known := min(x1, ts.x(v.now))
		l.Wet, l.Open = rectPath(x0, known, y0, y1), rectPath(known, x1, y0, y1)
	case s.Band.Told():
		l.Wet = taperPath(s, ts, x1, y0, y1)
	case s.Standing == model.Closed:
		l.Wet = rectPath(x0, min(x1, ts.x(s.Ended)), y0, y1)
	}
	return l
}

// windowEnd is where a layer window ends: with the next layer, or when nothing bonds to it any more.
func windowEnd(s model.Step, ts timeScale) float64 {
	switch {
	case !s.Ended.IsZero():
		return min(ts.x1, max(ts.x(s.Ended), ts.x(s.Begun)+3))
	case s.Closes.Told():
		return min(ts.x1, max(ts.x(s.Closes.Latest), ts.x(s.Begun)+3))
	}
	return ts.x1
}

// wetEnd is where the filled part of a layer ends.
func wetEnd(s model.Step, ts timeScale, x1 float64) float64 {
	switch {
	case s.Band.Told() && s.Standing != model.Doubtful:
		return min(x1, ts.x(s.Band.Latest))
	case s.Standing == model.Closed:
		return min(x1, ts.x(s.Ended))
	}
	return x1
}

// place puts the name before the layer where there is room, else behind what is filled, else inside.
func (l *layer) place(ts timeScale, wet float64) {
	need := letter*float64(len(l.Name)) + 10
	l.LabelY = tenth(l.Body.Y + l.Body.H/2 + 4.5)
	switch {
	case l.Body.X-ts.x0 > need:
		l.LabelX, l.Before = tenth(l.Body.X-5), true
	case ts.x1-wet > need:
		l.LabelX = tenth(wet + 5)
	default:
		l.LabelX, l.Inside = tenth(l.Body.X+5), true
	}
}

// taperPath fills a step from its beginning up to the upper edge of the taper: full until the
// earliest, half at the likely, nothing at the latest time; cut off at x1.
func taperPath(s model.Step, ts timeScale, x1, y0, y1 float64) string {
	x := []float64{ts.x(s.Begun), ts.x(s.Band.Earliest), ts.x(s.Band.Likely), ts.x(s.Band.Latest)}
	y := []float64{y0, y0, (y0 + y1) / 2, y1}
	var p pen
	p.move(x[0], y[0])
	for i := 1; i < len(x); i++ {
		if x[i] > x1 {
			part := (x1 - x[i-1]) / (x[i] - x[i-1])
			p.line(x1, y[i-1]+part*(y[i]-y[i-1]))
			p.line(x1, y1)
			break
		}
		p.line(x[i], y[i])
	}
	p.line(x[0], y1)
	p.close()
	return p.String()
}

func rectPath(x0, x1, y0, y1 float64) string {
	if x1 <= x0 {
		return ""
	}
	var p pen
	p.move(x0, y0)
	p.line(x1, y0)
	p.line(x1, y1)
	p.line(x0, y1)
	p.close()
	return p.String()
}

// sectionWords says what a section shows.
func (v voice) sectionWords(m *model.MoldOutlook) string {
	if len(m.Steps) == 0 {
		return "Nothing is on the pattern yet."
	}
	var b strings.Builder
	for _, s := range m.Steps {
		t := v.stand(s)
		fmt.Fprintf(&b, "%s: %s. ", s.Title, t.Head)
		if t.Tail != "" {
			b.WriteString(t.Tail + " ")
		}
	}
	return strings.TrimSpace(b.String())
}
