package page

import (
	"fmt"
	"math"
	"time"

	"pourward/model"
)

// panel is a chart of one measure below a drawing.
type panel struct {
	Title         string
	TitleY        float64
	TickX, GuideX float64
	MidX, MidY    float64
	Frame         box
	Ticks         []tick
	Guides        []guide
	Fans          []fan
	Lines         []traceLine
	Empty         string // said where there is nothing to draw
}

// guide is a limit drawn across a panel.
type guide struct {
	Y, TextY float64
	Label    string
}

// traceLine is one measured line.
type traceLine struct{ Class, Name, D string }

// track is what one probe recorded, to be cut at its gaps, and how it may go on.
type track struct {
	class, name string
	points      []Point
	gap         time.Duration
	ahead       foretold // within the drawing; nil where nothing is told
}

func newTrack(class, name string, points []Point, every time.Duration) track {
	return track{class: class, name: name, points: points, gap: gapLimit(points, every)}
}

const (
	tempHeight     = 132.0
	humidityHeight = 84.0
	panelHead      = 25.0
)

// tempPanel draws the temperatures of tracks; window, where known, is the range to pour in.
func (v voice) tempPanel(tracks []track, window *model.PlaceOutlook, ts timeScale, top float64) panel {
	of := func(p Point) float64 { return v.scaled(p.TempC) }
	p := newPanel("Temperature, "+v.unitName(), ts, top, tempHeight)
	lo, hi := math.Inf(1), math.Inf(-1)
	cut := make([][][]sample, len(tracks))
	for i, t := range tracks {
		cut[i] = runs(t.points, of, t.gap)
		if l, h, ok := extent(cut[i]); ok {
			lo, hi = min(lo, l), max(hi, h)
		}
		if l, h, ok := t.ahead.extent(); ok {
			lo, hi = min(lo, v.scaled(l)), max(hi, v.scaled(h))
		}
	}
	if lo > hi {
		p.Empty = "no temperature was recorded in this time"
		return p
	}
	y := newValueScale(lo, hi, v.scaled(5)-v.scaled(0), p.Frame.Y, p.Frame.Y+p.Frame.H)
	p.Ticks = y.ticks()
	for i, t := range tracks {
		if t.ahead != nil {
			p.Fans = append(p.Fans, fanOf(t.ahead, ts, func(tempC float64) float64 { return y.y(v.scaled(tempC)) }))
		}
		p.Lines = append(p.Lines, traceLine{t.class, t.name, tracePath(cut[i], ts, y.y)})
	}
	if window != nil {
		p.limit(y, v.scaled(window.PourMinC), "pour from here up")
		p.limit(y, v.scaled(window.PourMaxC), "pour up to here")
	}
	return p
}

// humidityPanel draws humidity, always from 0 to 100 %.
func (v voice) humidityPanel(t track, ts timeScale, top float64) panel {
	p := newPanel("Relative humidity, %", ts, top, humidityHeight)
	cut := runs(t.points, func(p Point) float64 { return 100 * p.Humidity }, t.gap)
	if _, _, ok := extent(cut); !ok {
		p.Empty = "no humidity was recorded in this time"
		return p
	}
	y := valueScale{lo: 0, hi: 100, step: 50, y0: p.Frame.Y, y1: p.Frame.Y + p.Frame.H}
	p.Ticks = y.ticks()
	p.Lines = []traceLine{{t.class, t.name, tracePath(cut, ts, y.y)}}
	p.limit(y, 85, "damp above")
	if now := ts.x(v.now); ts.x1-now > 110 {
		p.Empty, p.MidX = "not forecast", tenth((now+ts.x1)/2)
	}
	return p
}

func newPanel(title string, ts timeScale, top, height float64) panel {
	f := box{ts.x0, tenth(top + panelHead), ts.x1 - ts.x0, height}
	return panel{
		Title: title, TitleY: tenth(top + 17), Frame: f, TickX: f.X - 4, GuideX: f.X + 4,
		MidX: tenth(f.X + f.W/2), MidY: tenth(f.Y + f.H/2 + 5),
	}
}

// limit adds a guide if it is inside the panel.
func (p *panel) limit(y valueScale, value float64, label string) {
	if value > y.lo && value < y.hi {
		at := tenth(y.y(value))
		p.Guides = append(p.Guides, guide{at, tenth(at - 4), label})
	}
}

// hang puts panels below a drawing over the same time.
func (d *drawing) hang(ts timeScale, v voice, panels ...panel) {
	end := d.GridEnd
	for _, p := range panels {
		end = p.Frame.Y + p.Frame.H
	}
	d.Panels = append(d.Panels, panels...)
	d.finish(ts, end, v)
}

// traceWords says what the trace of a place shows.
func (v voice) traceWords(name string, t track, ts timeScale) string {
	to := earlier(ts.to, v.now)
	text := name + ", " + v.at(ts.from) + " to " + v.at(to) + ": "
	temps := runs(t.points, ofTemp, t.gap)
	lo, hi, ok := extent(temps)
	if !ok {
		return text + "no temperature was recorded." + v.aheadWords(t.ahead)
	}
	last := temps[len(temps)-1]
	final := last[len(last)-1]
	text += fmt.Sprintf("between %s and %s, last %s at %s.", v.temp(lo), v.temp(hi), v.temp(final.v), v.at(final.at))
	if lo, hi, ok := extent(runs(t.points, ofHumidity, t.gap)); ok {
		text += fmt.Sprintf(" Relative humidity %s to %s.", v.humidity(lo), v.humidity(hi))
	} else {
		text += " No humidity was recorded."
	}
	return text + v.gapWords(gapsIn(temps, ts.from, to, t.gap)) + v.aheadWords(t.ahead)
}

// gapWords names the stretches without a temperature, the first few by their times.
func (v voice) gapWords(gaps []gap) string {
	if len(gaps) == 0 {
		return ""
	}
	text := " No readings"
	for i, g := range gaps {
		if i == 3 {
			return text + fmt.Sprintf(" and %d more times.", len(gaps)-3)
		}
		if i > 0 {
			text += ","
		}
		text += " " + v.at(g.from) + " to " + v.near(g.to, g.from)
	}
	return text + "."
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
