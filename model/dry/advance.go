package dry

import "math"

// Limits of one sub-step. The temperature and humidity limits keep the
// trapezoid's error under 3e-4 of the dry time, however long the interval.
const (
	longestStep  = 300.0 // s
	widestStepK  = 0.25
	widestStepRH = 0.02
	mostSteps    = 1 << 16
	bisections   = 24
	slivers      = 256 // of a sub-step that begins in one hold and ends in another
)

// Advance carries p through seconds of air that changes linearly between from
// and to. It is a pure function: the same arguments give the same bits, and
// splitting an interval gives the same progress to 1e-3 at worst,
// and far closer where no hold begins or ends inside it. A time between two
// holds of one kind, or of less than 1.2 s between two of different kinds, that
// begins and ends within one sub-step is not counted.
//
// While a hold stands (see [Coat.Gates]) the clock does not run, so a cold, wet
// or unmeasured hour never helps a coat to be called dry. Real coats do creep
// on below 10 °C; no published figure says by how much, and a coat called dry
// too early can spoil a pattern. Above 35 °C the hold forbids a projection but
// the clock runs on as if at 35 °C: that hour was not worth less than a cooler
// one, and the ceiling on the rate keeps it from being worth more than the
// reference air allows.
//
// A gap in the readings longer than the staleness limit is the caller's to
// leave out.
func (c Coat) Advance(p Progress, from, to Air, seconds float64) Progress {
	if !(seconds > 0) || math.IsInf(seconds, 1) || p.Done() {
		return p
	}
	k := c.clock()
	start, end := from.moment(), to.moment()
	n := steps(start, end, seconds)
	here, slow := start, k.pace(start)
	for i := 1; i <= n && !p.Done(); i++ {
		next := start.toward(end, float64(i)/float64(n))
		after := k.pace(next)
		p = k.between(p, here, next, slow, after, seconds/float64(n))
		here, slow = next, after
	}
	return p
}

// steps is the number of sub-steps an interval needs; steady air needs one,
// the trapezoid being exact there.
func steps(from, to moment, seconds float64) int {
	if from == to {
		return 1
	}
	n := seconds / longestStep
	for _, need := range [...]float64{
		math.Abs(to.airC-from.airC) / widestStepK,
		math.Abs(to.filmC-from.filmC) / widestStepK,
		math.Abs(to.humidity-from.humidity) / widestStepRH,
	} {
		if need > n { // false for NaN
			n = need
		}
	}
	return int(math.Ceil(math.Min(math.Max(n, 1), mostSteps)))
}

// between carries p over one sub-step. Between one hold and another, as from too cold to condensing, the clock may
// run for a while.
func (k *clock) between(p Progress, from, to moment, a, b pace, seconds float64) Progress {
	if a.stopped() && b.stopped() && a.hold != b.hold {
		return k.betweenHolds(p, from, to, a, seconds)
	}
	a, b, seconds = k.moving(from, to, a, b, seconds)
	return k.run(p, a, b, seconds)
}

// betweenHolds carries p over a sub-step that begins in hold a and ends in another.
func (k *clock) betweenHolds(p Progress, from, to moment, a pace, seconds float64) Progress {
	here := from
	for i := 1; i <= slivers; i++ {
		next := from.toward(to, float64(i)/slivers)
		b := k.pace(next)
		first, last, part := k.moving(here, next, a, b, seconds/slivers)
		p = k.run(p, first, last, part)
		here, a = next, b
	}
	return p
}

// moving is the part of a sub-step in which the clock runs: the paces at its two ends, and how long it is.
// Where a hold begins or ends inside the sub-step only the part outside the hold counts.
func (k *clock) moving(from, to moment, a, b pace, seconds float64) (pace, pace, float64) {
	switch {
	case a.stopped() && b.stopped():
		return a, b, 0
	case a.stopped():
		part, edge := k.edge(to, from, b)
		return edge, b, part * seconds
	case b.stopped():
		part, edge := k.edge(from, to, a)
		return a, edge, part * seconds
	}
	return a, b, seconds
}

// edge finds how far a sub-step runs from a moving clock at free towards a
// stopped one at held, and the pace there.
func (k *clock) edge(free, held moment, atFree pace) (share float64, at pace) {
	low, high := 0.0, 1.0
	at = atFree
	for range bisections {
		middle := (low + high) / 2
		if p := k.pace(free.toward(held, middle)); p.stopped() {
			high = middle
		} else {
			low, at = middle, p
		}
	}
	return low, at
}

// run adds what the rates, linear between a and b, give in seconds; the stages
// cross over at the very instant the wet one is complete.
func (k *clock) run(p Progress, a, b pace, seconds float64) Progress {
	if !(seconds > 0) {
		return p
	}
	spent := 0.0
	if p.Wet < 1 {
		need := (1 - p.Wet) * k.wetSeconds
		spent = timeFor(need, a.wet, b.wet, seconds)
		if !(spent <= seconds) {
			p.Wet = whole(p.Wet + (a.wet+b.wet)/2*seconds/k.wetSeconds)
			return p
		}
		p.Wet = 1
	}
	if !(k.filmSeconds > 0) {
		p.Film = 1
		return p
	}
	atCross := a.film + (b.film-a.film)*spent/seconds
	p.Film = whole(p.Film + (atCross+b.film)/2*(seconds-spent)/k.filmSeconds)
	return p
}

// timeFor is the time that a rate going linearly from a to b over seconds
// takes to deliver need; +Inf when the interval cannot.
func timeFor(need, a, b, seconds float64) float64 {
	if need <= 0 {
		return 0
	}
	square := a*a + 2*need*(b-a)/seconds
	if square < 0 {
		return math.Inf(1)
	}
	return 2 * need / (a + math.Sqrt(square))
}

// whole closes a stage that rounding left open by less than a billionth.
func whole(share float64) float64 {
	if share > 1-1e-9 {
		return 1
	}
	return share
}

// Remaining is the time left, in seconds, if the air stays as it is. It is not
// ok while a hold stands or the air takes up nothing.
func (c Coat) Remaining(p Progress, a Air) (seconds float64, ok bool) {
	if p.Done() {
		return 0, true
	}
	k := c.clock()
	speed := k.pace(a.moment())
	if speed.hold != NoReason {
		return 0, false
	}
	seconds = math.Max(0, 1-p.Wet)*k.wetSeconds/speed.wet + math.Max(0, 1-p.Film)*k.filmSeconds/speed.film
	return seconds, !math.IsInf(seconds, 1) && !math.IsNaN(seconds)
}
