package page

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"pourward/model/plan"
)

// timeScale maps instants to the width of a drawing.
type timeScale struct {
	from, to time.Time
	x0, x1   float64
}

// x is where t lies, held inside the drawing.
func (s timeScale) x(t time.Time) float64 {
	span := s.to.Sub(s.from)
	if span <= 0 {
		return s.x0
	}
	f := float64(t.Sub(s.from)) / float64(span)
	return s.x0 + (s.x1-s.x0)*min(1, max(0, f))
}

// holds reports whether t is inside the drawing.
func (s timeScale) holds(t time.Time) bool { return !t.Before(s.from) && !t.After(s.to) }

// tick is a labeled place on an axis.
type tick struct {
	X, Y   float64
	TextY  float64
	Label  string
	Strong bool // begins a day
}

// half is half the width that the label takes at most, where letters are largest.
func (t tick) half() float64 {
	w := letter * float64(len(t.Label)) / 2
	if t.Strong {
		return 1.15 * w // bold
	}
	return w
}

// tickSteps are the spacings of time ticks, in hours; beyond them days are skipped.
func tickSteps() []float64 {
	return []float64{1. / 12, 1. / 6, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 672}
}

// ticks are at most most labels at round local times; three more where they are names of days, which are
// short, and one less where they are dates. Midnight carries the name of its day.
func (s timeScale) ticks(v voice, most int) []tick {
	hours := s.to.Sub(s.from).Hours()
	step := 0.0
	for _, h := range tickSteps() {
		switch {
		case h == 24 && hours <= 7*24:
			most += 3
		case h == 24:
			most--
		}
		if step = h; hours/h <= float64(most) {
			break
		}
	}
	if hours/step > float64(most) {
		return nil
	}
	var out []tick
	for _, h := range s.hands(step, v.zone) {
		out = append(out, s.tickAt(h))
	}
	return out
}

// hand is an instant to be labeled, and what clocks and calendars show then.
type hand struct {
	at    time.Time
	shown time.Time // held as that reading in UTC
}

// hands are the readings of the clock that are a step of hours apart, as far as the drawing holds them, in order of
// time. Where clocks are set back, a reading is labeled the first time it comes; one that they are set forward over
// is left out, but for midnight: its day begins when they are.
func (s timeScale) hands(step float64, zone *time.Location) []hand {
	var all []hand
	y, m, d := s.from.In(zone).Date()
	for i := -int(24 / step); i < 20_000; i++ { // from a day before on: clocks may be set back into it
		shown := time.Date(y, m, d, 0, int(math.Round(float64(i)*step*60)), 0, 0, time.UTC)
		instants := plan.Shown(shown, zone)
		if len(instants) == 0 && atMidnight(shown) {
			if begins, _ := plan.Turns(shown, zone); begins.Day() == shown.Day() { // else there was no such day
				instants = []time.Time{begins}
			}
		}
		if len(instants) > 0 && instants[0].After(s.to) {
			break
		}
		if k := slices.IndexFunc(instants, s.holds); k >= 0 {
			all = append(all, hand{instants[k], shown})
		}
	}
	slices.SortStableFunc(all, func(a, b hand) int { return a.at.Compare(b.at) })
	return slices.CompactFunc(all, func(a, b hand) bool { return a.at.Equal(b.at) }) // a day that begins late, and the time it begins at
}

func atMidnight(shown time.Time) bool { return shown.Hour() == 0 && shown.Minute() == 0 }

func (s timeScale) tickAt(h hand) tick {
	if atMidnight(h.shown) {
		label := h.shown.Format("Mon")
		if s.to.Sub(s.from) > 7*24*time.Hour {
			label = h.shown.Format("2 Jan")
		}
		return tick{X: tenth(s.x(h.at)), Label: label, Strong: true}
	}
	return tick{X: tenth(s.x(h.at)), Label: h.shown.Format("15:04")}
}

// valueScale maps values to the height of a panel; it begins and ends at round numbers.
type valueScale struct {
	lo, hi, step float64
	y0, y1       float64 // top and bottom
}

// newValueScale covers [lo, hi] and at least span, with at most four steps.
func newValueScale(lo, hi, span, y0, y1 float64) valueScale {
	if short := span - (hi - lo); short > 0 {
		lo, hi = lo-short/2, hi+short/2
	}
	step := niceStep((hi - lo) / 4)
	return valueScale{lo: math.Floor(lo/step) * step, hi: math.Ceil(hi/step) * step, step: step, y0: y0, y1: y1}
}

// niceStep is the next of 1, 2, 5 times a power of ten at or above x.
func niceStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, f := range []float64{1, 2, 5} {
		if f*p >= x*(1-1e-9) {
			return f * p
		}
	}
	return 10 * p
}

func (s valueScale) y(value float64) float64 {
	return s.y1 - (s.y1-s.y0)*(value-s.lo)/(s.hi-s.lo)
}

func (s valueScale) ticks() []tick {
	var out []tick
	for i := 0; ; i++ {
		value := s.lo + float64(i)*s.step
		if value > s.hi+s.step/2 {
			return out
		}
		out = append(out, tick{Y: tenth(s.y(value)), TextY: tenth(s.y(value) + 4.5), Label: decimal(value, decimalsOf(s.step))})
	}
}

func decimalsOf(step float64) int { return max(0, int(-math.Floor(math.Log10(step)+1e-9))) }

// pen collects the data of an SVG path, in tenths of a unit.
type pen struct{ strings.Builder }

func (p *pen) move(x, y float64) { p.to('M', x, y) }
func (p *pen) line(x, y float64) { p.to('L', x, y) }

// draw moves there first, then goes on with a line.
func (p *pen) draw(first bool, x, y float64) {
	if first {
		p.move(x, y)
		return
	}
	p.line(x, y)
}
func (p *pen) close() { p.WriteByte('Z') }

func (p *pen) to(verb byte, x, y float64) {
	p.WriteByte(verb)
	p.WriteString(short(x))
	p.WriteByte(' ')
	p.WriteString(short(y))
}

// tenth rounds to the resolution of drawings.
func tenth(x float64) float64 { return math.Round(x*10) / 10 }

// short writes a coordinate with at most one decimal.
func short(x float64) string {
	return strconv.FormatFloat(tenth(x), 'f', -1, 64)
}
