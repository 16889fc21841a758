package page

import (
	"fmt"
	"math"
	"time"

	"pourward/model"
)

// foretold is how the temperature of a place may go on, in order of time.
type foretold []model.Reach

// at is what is foretold for an instant, linear between two hours; ok is false outside of them.
func (f foretold) at(t time.Time) (r model.Reach, ok bool) {
	for i := 1; i < len(f); i++ {
		a, b := f[i-1], f[i]
		if t.Before(a.At) || t.After(b.At) {
			continue
		}
		part := float64(t.Sub(a.At)) / float64(b.At.Sub(a.At))
		between := func(x, y float64) float64 { return x + (y-x)*part }
		return model.Reach{At: t, LowC: between(a.LowC, b.LowC), LikelyC: between(a.LikelyC, b.LikelyC), HighC: between(a.HighC, b.HighC)}, true
	}
	return r, false
}

// within cuts out what lies from one instant to another, their own values included; nil where there is
// no stretch of it. It ends where a number is missing.
func (f foretold) within(from, to time.Time) foretold {
	for i, r := range f {
		if sum := r.LowC + r.LikelyC + r.HighC; math.IsNaN(sum) || math.IsInf(sum, 0) {
			f = f[:i]
			break
		}
	}
	var out foretold
	if r, ok := f.at(from); ok {
		out = append(out, r)
	}
	for _, r := range f {
		if r.At.After(from) && r.At.Before(to) {
			out = append(out, r)
		}
	}
	if r, ok := f.at(to); ok && from.Before(to) {
		out = append(out, r)
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// extent is the lowest and the highest that is foretold, °C; ok is false where nothing is.
func (f foretold) extent() (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, r := range f {
		low, high = min(low, r.LowC), max(high, r.HighC)
	}
	return low, high, low <= high
}

// fan is a forecast in a panel. What was measured is a plain line; what is foretold has another shape: a
// shaded strip with the middle eight of ten, and a row of beads where it is likely.
type fan struct{ Strip, Edges, Beads string }

// fanOf draws a forecast; y is the height at which a temperature in °C lies.
func fanOf(f foretold, ts timeScale, y func(tempC float64) float64) fan {
	var strip, edges, beads pen
	for i, r := range f {
		x := ts.x(r.At)
		strip.draw(i == 0, x, y(r.HighC))
		edges.draw(i == 0, x, y(r.HighC))
		beads.draw(i == 0, x, y(r.LikelyC))
	}
	for i := range f {
		r := f[len(f)-1-i]
		strip.line(ts.x(r.At), y(r.LowC))
		edges.draw(i == 0, ts.x(r.At), y(r.LowC))
	}
	strip.close()
	return fan{strip.String(), edges.String(), beads.String()}
}

// aheadWords says what a fan shows.
func (v voice) aheadWords(f foretold) string {
	low, high, ok := f.extent()
	if !ok {
		return ""
	}
	coldest, warmest := f[0], f[0]
	for _, r := range f {
		if r.LikelyC < coldest.LikelyC {
			coldest = r
		}
		if r.LikelyC > warmest.LikelyC {
			warmest = r
		}
	}
	about := func(t time.Time) string { return v.at(t.Round(10 * time.Minute)) } // no finer than it deserves
	return fmt.Sprintf(" Forecast to %s: likely %s at the coldest, about %s, and %s at the warmest, about %s; eight in ten lie between %s and %s.",
		v.at(f[len(f)-1].At), v.temp(coldest.LikelyC), about(coldest.At), v.temp(warmest.LikelyC), about(warmest.At), v.temp(low), v.temp(high))
}

// aheadRow is a line of the table that says the same as a fan.
type aheadRow struct{ When, Likely, Low, High string }

// aheadRows tell a forecast at round hours and at its end, in at most about a dozen rows.
func (v voice) aheadRows(f foretold) []aheadRow {
	if len(f) < 2 {
		return nil
	}
	from, to := f[0].At, f[len(f)-1].At
	var out []aheadRow
	for _, t := range append(v.roundTimes(from, to, max(time.Hour, tableStep(to.Sub(from), 12))), to) {
		if r, ok := f.at(t); ok {
			out = append(out, aheadRow{v.at(t), v.temp(r.LikelyC), v.temp(r.LowC), v.temp(r.HighC)})
		}
	}
	return out
}
