package page

import (
	"math"
	"slices"
	"time"
)

// sample is one value of one measure.
type sample struct {
	at time.Time
	v  float64
}

// ofTemp and ofHumidity pick a measure of a point.
func ofTemp(p Point) float64     { return p.TempC }
func ofHumidity(p Point) float64 { return p.Humidity }

// gapLimit is the distance in time beyond which two points are not joined: three intervals of the
// probe, two minutes at least, and three times the spacing usual in the record itself.
func gapLimit(points []Point, every time.Duration) time.Duration {
	limit := max(3*every, 2*time.Minute)
	if len(points) < 3 {
		return limit
	}
	spacings := make([]time.Duration, 0, len(points)-1)
	for i := 1; i < len(points); i++ {
		spacings = append(spacings, points[i].At.Sub(points[i-1].At))
	}
	slices.Sort(spacings)
	return max(limit, 3*spacings[len(spacings)/2])
}

// runs cuts points into stretches without a gap. A point without the measure ends a stretch: a missing
// value is never drawn.
func runs(points []Point, of func(Point) float64, gap time.Duration) [][]sample {
	var out [][]sample
	var run []sample
	flush := func() {
		if len(run) > 0 {
			out = append(out, run)
		}
		run = nil
	}
	for _, p := range points {
		v := of(p)
		if math.IsNaN(v) || math.IsInf(v, 0) {
			flush()
			continue
		}
		if n := len(run); n > 0 && p.At.Sub(run[n-1].at) > gap {
			flush()
		}
		run = append(run, sample{p.At, v})
	}
	flush()
	return out
}

// thin keeps of every unit of width the first, lowest, highest and last sample, so that a drawing of a
// week costs no more than it can show and no extreme is lost.
func thin(run []sample, x func(time.Time) float64) []sample {
	var out []sample
	for begin := 0; begin < len(run); {
		column := math.Floor(x(run[begin].at))
		end := begin + 1
		for end < len(run) && math.Floor(x(run[end].at)) == column {
			end++
		}
		out = append(out, corners(run[begin:end])...)
		begin = end
	}
	return out
}

// corners are the first, lowest, highest and last of some samples, in order, none twice.
func corners(s []sample) []sample {
	if len(s) <= 4 {
		return s
	}
	low, high := 0, 0
	for i := range s {
		if s[i].v < s[low].v {
			low = i
		}
		if s[i].v > s[high].v {
			high = i
		}
	}
	keep := []int{0, low, high, len(s) - 1}
	slices.Sort(keep)
	out := make([]sample, 0, 4)
	for _, i := range slices.Compact(keep) {
		out = append(out, s[i])
	}
	return out
}

// tracePath draws stretches as one path; a lone sample is a dot.
func tracePath(stretches [][]sample, ts timeScale, y func(float64) float64) string {
	var p pen
	for _, run := range stretches {
		for i, s := range thin(run, ts.x) {
			if i == 0 {
				p.move(ts.x(s.at), y(s.v))
				continue
			}
			p.line(ts.x(s.at), y(s.v))
		}
		if len(run) == 1 {
			p.WriteString("h0")
		}
	}
	return p.String()
}

// extent is the lowest and highest value; ok is false where there is none.
func extent(stretches [][]sample) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, run := range stretches {
		for _, s := range run {
			lo, hi = min(lo, s.v), max(hi, s.v)
		}
	}
	return lo, hi, lo <= hi
}

// gap is a stretch of time without a trusted value.
type gap struct{ from, to time.Time }

// gapsIn lists the stretches within [from, to] that no run covers, longer than limit.
func gapsIn(stretches [][]sample, from, to time.Time, limit time.Duration) []gap {
	var out []gap
	at := from
	for _, run := range stretches {
		if first := run[0].at; first.Sub(at) > limit {
			out = append(out, gap{at, first})
		}
		at = run[len(run)-1].at
	}
	if to.Sub(at) > limit {
		out = append(out, gap{at, to})
	}
	return out
}

// row is a line of the table that says the same as a trace.
type row struct {
	When           string
	Temp, Humidity string
}

// rowsView is a table of rows with what it is about.
type rowsView struct {
	Caption string
	Damp    bool // humidity is measured
	Rows    []row
	AheadOf string // place the forecast is for, such as "in the air"
	Ahead   []aheadRow
}

// tableStep is the span a row of a table covers so that there are at most most of them, as far as steps
// of up to a week allow.
func tableStep(span time.Duration, most int) time.Duration {
	h := time.Hour
	step := h / 6
	for _, step = range []time.Duration{h / 6, h / 2, h, 2 * h, 3 * h, 6 * h, 12 * h, 24 * h, 48 * h, 168 * h} {
		if span <= time.Duration(most)*step {
			break
		}
	}
	return step
}

// roundTimes lists the instants between two others that are whole steps by the shop's clock.
func (v voice) roundTimes(from, to time.Time, step time.Duration) []time.Time {
	_, offset := from.In(v.zone).Zone()
	shift := time.Duration(offset) * time.Second
	var out []time.Time
	for t := from.Add(shift).Truncate(step).Add(step - shift); t.Before(to); t = t.Add(step) {
		out = append(out, t)
	}
	return out
}

// table sums a track up in at most about thirty rows.
func (v voice) table(caption string, t track, from, to time.Time) rowsView {
	out := rowsView{Caption: caption, AheadOf: t.name, Ahead: v.aheadRows(t.ahead)}
	_, _, out.Damp = extent(runs(t.points, ofHumidity, math.MaxInt64))
	if !from.Before(to) {
		return out
	}
	begin, i := from, 0
	for _, end := range append(v.roundTimes(from, to, tableStep(to.Sub(from), 30)), to) {
		first := i
		for i < len(t.points) && t.points[i].At.Before(end) {
			i++
		}
		out.Rows = append(out.Rows, v.row(t.points[first:i], begin, end))
		begin = end
	}
	return out
}

func (v voice) row(points []Point, begin, end time.Time) row {
	return row{
		When:     v.at(begin) + " to " + v.near(end, begin),
		Temp:     rangeWords(points, ofTemp, v.temp),
		Humidity: rangeWords(points, ofHumidity, v.humidity),
	}
}

// rangeWords gives lowest and highest of a measure, or says that there is none.
func rangeWords(points []Point, of func(Point) float64, word func(float64) string) string {
	lo, hi, ok := extent(runs(points, of, math.MaxInt64))
	if !ok {
		return "no reading"
	}
	if word(lo) == word(hi) {
		return word(lo)
	}
	return word(lo) + " to " + word(hi)
}
