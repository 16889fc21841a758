package model

import (
	"math"
	"time"

	"pourward/model/cure"
	"pourward/model/material"
)

// Places in the band, in standard deviations of ln(time): 10, 50 and 90 %.
const (
	early  = iota // one in ten is sooner
	likely        // as many sooner as later
	late          // one in ten is later
	quantiles
)

// score is the standard normal quantile of a place in the band.
func score(place int) float64 {
	const tenth = 1.2815515655446004
	return [quantiles]float64{-tenth, 0, tenth}[place]
}

// gapStray is how far the temperature in a gap is taken to have strayed beyond its ends, K; it is an
// assumption. After longestGap nothing is assumed: the gap may have added nothing at all.
const (
	gapStray   = 5.0
	longestGap = 6 * time.Hour
)

// cureFold ages one event of a curing material over a walk.
type cureFold struct {
	walk    pieces
	until   int64
	event   material.Event
	law     cure.Arrhenius
	lag     float64 // what is not known of the lag behind the air, standard deviation of ln(time)
	probeK  float64 // accuracy of the probe, one standard deviation, K
	known   cure.Known
	likely  cure.Account // by the temperature that is felt
	cup     *cup         // the cup it stands in; nil = as warm as the air
	mold    *thermal     // how the rubber lags behind it; nil = not told
	core    float64      // age of the part that decides, s
	less    float64      // by which gaps may have aged it less, s
	more    float64      // by which gaps may have aged it more, s
	gap     time.Duration
	below   time.Duration    // spent under the material's floor
	coldest float64          // lowest temperature felt until the latest place was passed, °C
	hottest float64          // highest, °C
	crossed [quantiles]int64 // when each place of the band was passed; 0 = not yet
}

func newCureFold(w pieces, m material.Material, e material.Event, probeK float64) *cureFold {
	return &cureFold{
		walk: w, until: math.MaxInt64, event: e, probeK: probeK,
		law:   law(m, e),
		known: knownOf(m),
	}
}

// knownOf is the range of temperatures a material is known for; one that states none is taken at its word.
func knownOf(m material.Material) cure.Known {
	if m.Known == (material.Window{}) {
		return cure.Known{LowC: math.Inf(-1), HighC: math.Inf(1), FloorC: m.FloorC}
	}
	return cure.Known{LowC: m.Known.MinC, HighC: m.Known.MaxC, FloorC: m.FloorC}
}

// restart forgets what was folded; the next advance walks from the beginning.
func (f *cureFold) restart() {
	f.walk.start()
	f.likely, f.core, f.less, f.more, f.gap, f.below = cure.Account{}, 0, 0, 0, 0, 0
	if f.mold != nil {
		f.mold.restart()
	}
	f.cup.restart()
	f.coldest, f.hottest = math.Inf(1), math.Inf(-1)
	f.crossed = [quantiles]int64{}
}

// advance folds every complete piece up to the end of the tracks.
func (f *cureFold) advance() {
	for {
		p, ok := f.walk.next(f.until)
		if !ok {
			return
		}
		f.add(p)
	}
}

// add folds one piece.
func (f *cureFold) add(p piece) {
	from, to, seconds := p.from.felt(), p.to.felt(), p.seconds()
	was := *f
	if f.cup.ok() {
		f.addCup(p)
	} else {
		f.law.Add(&f.likely, from, to, seconds)
	}
	f.core = f.likely.Age
	if f.mold.ok() {
		f.core = f.mold.step(p)
	}
	if p.gap {
		f.addGap(p, f.likely.Age-was.likely.Age)
	}
	if f.crossed[late] == 0 {
		f.coldest, f.hottest = min(f.coldest, from, to), max(f.hottest, from, to)
	}
	if max(from, to) < f.law.FloorC {
		f.below += time.Duration(p.b-p.a) * time.Millisecond
	}
	f.cross(p, &was)
}

// addGap bounds what a gap may have added to the age.
func (f *cureFold) addGap(p piece, more float64) {
	from, to, seconds := p.from.felt(), p.to.felt(), p.seconds()
	f.gap += time.Duration(p.b-p.a) * time.Millisecond
	warm := max(from, to) + gapStray
	f.more += max(0, f.law.Age(warm, warm, seconds)-more)
	least := 0.0
	if p.b-p.a <= longestGap.Milliseconds() {
		cold := min(from, to) - gapStray
		least = f.law.Age(cold, cold, seconds)
	}
	f.less += max(0, more-least)
}

// cross notes the places of the band that the piece passed.
func (f *cureFold) cross(p piece, was *cureFold) {
	if f.crossed[late] != 0 || f.core+f.more < 0.2*f.event.Ref.Seconds() {
		return
	}
	sd := f.lnSD(f.likely)
	for place, age := range f.ages() {
		if f.crossed[place] == 0 && age >= f.need(place, sd) {
			f.crossed[place] = p.a + int64(math.Ceil(float64(p.b-p.a)*f.reachedAfter(p, place, was)))
		}
	}
}

// reachedAfter is the share of a piece after which a place of the band that is reached by its end was reached, by
// halving, to a quarter of a millisecond. The spread is that of the very instant, so that a band does not depend on how
// long the pieces are. An age that goes by the temperature felt is followed exactly; the bounds of a gap run evenly,
// and a mold or a cup nearly so.
func (f *cureFold) reachedAfter(p piece, place int, was *cureFold) float64 {
	before, after := was.ages()[place], f.ages()[place]
	evenly := f.mold.ok() || f.cup.ok() || p.gap && place != likely
	low, high := 0.0, 1.0
	for enough := 0.25 / float64(p.b-p.a); high-low > enough; {
		share := (low + high) / 2
		acc, sd := was.within(p, share, f.likely)
		age := before + acc.Age - was.likely.Age
		if evenly {
			age = before + (after-before)*share
		}
		if age < f.need(place, sd) {
			low = share
		} else {
			high = share
		}
	}
	return high
}

// within is the account after a share of the piece that follows, at the end of which it is end, and the standard
// deviation of ln(time) for it.
func (f *cureFold) within(p piece, share float64, end cure.Account) (cure.Account, float64) {
	from, to, acc := p.from.felt(), p.to.felt(), f.likely
	to = from + (to-from)*share
	if f.cup.ok() {
		acc.Age += (end.Age - acc.Age) * share
		acc.DEa += (end.DEa - acc.DEa) * share
	} else {
		f.law.Add(&acc, from, to, p.seconds()*share)
	}
	return acc, f.spread().LnSDOf(f.law, acc, min(f.coldest, from, to), max(f.hottest, from, to))
}

// meanRate is the mean rate since the beginning, as far as it has been walked.
func (f *cureFold) meanRate() float64 {
	seconds := float64(f.walk.front-f.walk.from) / 1000
	if seconds <= 0 {
		return 0
	}
	return f.likely.Age / seconds
}

// ages returns the age that each place of the band goes by: the earliest by the most that gaps may
// have added, the latest by the least.
func (f *cureFold) ages() [quantiles]float64 {
	return [quantiles]float64{early: f.core + f.more, likely: f.core, late: f.core - f.less}
}

// need is the equivalent time at which a place of the band is reached, s.
func (f *cureFold) need(place int, sd float64) float64 {
	return f.event.Ref.Seconds() * math.Exp(score(place)*sd)
}

// lnSD is the standard deviation of ln(time) for an account.
func (f *cureFold) lnSD(acc cure.Account) float64 {
	return f.spread().LnSDOf(f.law, acc, f.coldest, f.hottest)
}

// spread is what is not known of the event's time.
func (f *cureFold) spread() cure.Spread {
	return spreadOf(f.event, f.known, math.Hypot(f.probeK, f.cup.doubtK()), f.lag)
}

// spreadOf puts together what is not known of the time of a material's event.
func spreadOf(e material.Event, known cure.Known, probeK, lagSD float64) cure.Spread {
	return cure.Spread{LnSD: e.LnSD, EaSDJ: e.EaSDJ, Cov: e.Cov, ProbeK: probeK, LagSD: lagSD, Known: known}
}

// outsideSD is what having been outside the known temperatures adds to the spread of ln(time).
func (f *cureFold) outsideSD() float64 { return f.spread().OutsideSD(f.coldest, f.hottest) }

// tooFar reports whether it was so far outside that nothing may be told.
func (f *cureFold) tooFar() bool { return f.spread().TooFar(f.coldest, f.hottest) }
