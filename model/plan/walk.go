package plan

import (
	"math"

	"pourward/model/dry"
	"pourward/model/material"
)

// Hold is what keeps an action waiting once what came before it is ready. The list is closed.
type Hold string

const (
	NoHold    Hold = ""
	OffHours  Hold = "off-hours"  // nobody is there, or not for long enough
	TooCold   Hold = "too-cold"   // the air, for pouring or coating
	TooWarm   Hold = "too-warm"   // likewise
	TooDamp   Hold = "too-damp"   // likewise
	TooDry    Hold = "too-dry"    // for pouring
	ColdAhead Hold = "cold-ahead" // it turns too cold before what is poured would be half cured
	ForLayers Hold = "for-layers" // begun then, a later layer would miss its window
	NoWindow  Hold = "no-window"  // when nine in ten take the next layer, one in ten no longer does
	Beyond    Hold = "beyond"     // not ready, or not begun, within the forecast
)

// String says it in plain words.
func (h Hold) String() string {
	switch h {
	case OffHours:
		return "outside the working hours"
	case TooCold:
		return "the air is too cold"
	case TooWarm:
		return "the air is too warm"
	case TooDamp:
		return "the air is too damp"
	case TooDry:
		return "the air is too dry"
	case ColdAhead:
		return "the air turns too cold before it would be half cured"
	case ForLayers:
		return "begun earlier, the working hours would make a later layer miss its window"
	case NoWindow:
		return "by the time nine in ten such layers take the next one, one in ten no longer does"
	case Beyond:
		return "not ready within the three days that can be forecast"
	}
	return ""
}

// What actions take and where they begin.
const (
	handsOn = 900.0 // s for a coat, and for demolding: common practice, no source
	tick    = 300.0 // s: actions begin on whole five minutes
)

// open is a stretch of working hours, s from the beginning of the paths.
type open struct{ from, to float64 }

// stamp is one action on one path, s from the beginning of the paths.
type stamp struct {
	ready float64 // what came before is dry, cured or may be covered
	begin float64
	held  Hold // why begin is after ready
}

// walker takes one maker along the paths.
type walker struct {
	sky      *sky
	acts     []act
	hours    []open
	tick0    float64         // s to the first whole five minutes of the clock
	quarter0 float64         // s to the first whole quarter of an hour
	blocks   map[int]*blocks // by the act of the first layer
}

// walk goes through all actions on path i for a maker who begins as soon as possible from an instant on. It
// returns when the last is done; where it comes to no end, which action it was and what stopped it. into, where
// not nil, takes the stamps of what was done.
func (w *walker) walk(i int, from float64, into []stamp) (done float64, at int, stopped Hold) {
	ready := from
	for n := 0; n < len(w.acts); n++ {
		a := &w.acts[n]
		if a.layers > 0 {
			next, held := w.layers(i, n, ready, into)
			if held != NoHold {
				return 0, n, held
			}
			ready, n = next, n+a.layers-1
			continue
		}
		begin, hands, held, ok := w.begin(i, a, ready)
		if !ok {
			return 0, n, held
		}
		if into != nil {
			into[n] = stamp{ready, begin, held}
		}
		if a.kind == Demold && n == len(w.acts)-1 {
			return begin + hands, n, NoHold
		}
		if ready, ok = w.after(i, a, begin+hands); !ok {
			return 0, n + 1, Beyond
		}
	}
	return ready, len(w.acts), NoHold
}

// after is when, by nine in ten, one may go on from an action that was done at an instant.
func (w *walker) after(i int, a *act, done float64) (ready float64, ok bool) {
	switch a.kind {
	case CoatOn, ReleaseOn:
		return w.sky.along(a.of.Coat)[i].Dry(done)
	case Pour:
		return w.sky.reached(a.of.Demold, i, done, nineInTen)
	}
	return done, true
}

// begin finds the first instant from ready on at which an action can be begun and done: somebody is there all
// the while, and the air allows it.
func (w *walker) begin(i int, a *act, ready float64) (at, hands float64, held Hold, ok bool) {
	for at = w.onTick(ready); at < end; {
		o, there := w.openAt(at)
		if !there {
			held = orElse(held, OffHours)
			return 0, 0, orElse(held, Beyond), false
		}
		if at < o.from {
			held, at = orElse(held, OffHours), w.onTick(o.from)
			continue
		}
		hands, stop := w.allowed(i, a, at)
		switch {
		case stop != NoHold:
			held = orElse(held, stop)
		case at+hands > o.to:
			held = orElse(held, OffHours)
		default:
			if at-ready < tick {
				held = NoHold
			}
			return at, hands, held, true
		}
		at += tick
	}
	return 0, 0, orElse(held, Beyond), false
}

// orElse keeps the first thing that held something up; that nobody is there only where nothing else did.
func orElse(held, other Hold) Hold {
	if held == NoHold || held == OffHours && other != Beyond {
		return other
	}
	return held
}

// onTick is the first whole five minutes from an instant on.
func (w *walker) onTick(s float64) float64 {
	return w.tick0 + tick*math.Ceil((s-w.tick0)/tick-1e-9)
}

// openAt is the stretch of working hours that holds an instant, or the next one.
func (w *walker) openAt(s float64) (open, bool) {
	for _, o := range w.hours {
		if s < o.to {
			return o, true
		}
	}
	return open{}, false
}

// allowed tells how long an action begun at an instant keeps the maker, s, and what forbids it.
func (w *walker) allowed(i int, a *act, at float64) (hands float64, stop Hold) {
	switch a.kind {
	case CoatOn, ReleaseOn:
		return handsOn, w.coating(i, a.of.Coat, at)
	case Pour, Layer:
		return w.pouring(i, a.of, at)
	}
	return handsOn, NoHold
}

// coating tells what in the air of a path forbids to put a coat on.
func (w *walker) coating(i int, c dry.Coat, at float64) Hold {
	for p := int(at / step); p < points && float64(p-1)*step < at+handsOn; p++ {
		if !w.sky.coatable(c, i, p) {
			return airHold(c, w.sky.air(i, p))
		}
	}
	return NoHold
}

// airHold words what the gates of a coat say.
func airHold(c dry.Coat, a dry.Air) Hold {
	g := c.Gates(a)
	for _, r := range append(g.Red, g.Hold) {
		switch r {
		case dry.TooCold, dry.BelowFilmForming:
			return TooCold
		case dry.TooHot:
			return TooWarm
		case dry.NoReason:
		default:
			return TooDamp
		}
	}
	return TooDamp
}

// pouring tells how long a batch keeps the maker: until one in ten would be past its working life. The air must
// lie in the window of the rubber, and be neither damp nor too dry, until nine in ten are, and it must not turn
// colder than some products of the class can bear before the cure is half done.
func (w *walker) pouring(i int, of *Stuff, at float64) (hands float64, stop Hold) {
	if stop = w.fitUntil(i, of, at, at); stop != NoHold {
		return 0, stop
	}
	last := at
	if of.Work.Known() {
		early, ok := w.sky.reached(of.Work, i, at, -nineInTen)
		late, ok2 := w.sky.reached(of.Work, i, at, nineInTen)
		if !ok || !ok2 {
			return 0, Beyond
		}
		hands, last = early-at, late
	}
	if stop = w.fitUntil(i, of, at, last); stop != NoHold {
		return hands, stop
	}
	return hands, w.chilled(i, of, at)
}

// chilled tells whether it turns too cold before what is poured at an instant is half cured, or never is
// within the forecast.
func (w *walker) chilled(i int, of *Stuff, at float64) Hold {
	if !of.Half.Known() {
		return NoHold
	}
	half, ok := w.sky.reached(of.Half, i, at, 0)
	if !ok {
		return ColdAhead
	}
	for _, tempC := range w.sky.path(i)[int(at/step) : int(half/step)+1] {
		if tempC < of.Of.DoubtBelowC {
			return ColdAhead
		}
	}
	return NoHold
}

// fitUntil judges the air of a path from one instant to another, at the points around them and between.
func (w *walker) fitUntil(i int, of *Stuff, from, to float64) Hold {
	for p := int(from / step); p < points && float64(p-1)*step < to; p++ {
		a := w.sky.air(i, p)
		if stop := fit(of, a); stop != NoHold {
			return stop
		}
	}
	return NoHold
}

// fit judges air to pour in. What is not known of it, and limits that are not stated, are not judged.
func fit(of *Stuff, a dry.Air) Hold {
	switch window := of.Of.Pour; {
	case window == material.Window{}:
	case a.AirC < window.MinC:
		return TooCold
	case a.AirC > window.MaxC:
		return TooWarm
	}
	switch {
	case math.IsNaN(a.Humidity) || of.Humidity.Holds(a.Humidity):
		return NoHold
	case a.Humidity < of.Humidity.Min:
		return TooDry
	}
	return TooDamp
}
