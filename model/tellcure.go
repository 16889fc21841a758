package model

import (
	"fmt"
	"math"
	"time"

	"pourward/model/doubt"
	"pourward/model/forecast"
	"pourward/model/material"
)

// cure tells of a working life or a demold time.
func (t *teller) cure(m *mold, st *step) Projection {
	f := st.cure
	p := Projection{Share: f.share(), RoomTime: f.event.Ref, Why: append(f.remarks(st.of), st.batchRemarks()...)}
	if !f.event.Known() {
		p.Standing, p.Why = CannotSay, []string{"no reference time is known for this material"}
		return p
	}
	r, ok := t.reckon(m, st, f)
	p.Why = append(p.Why, r.why...)
	if !ok {
		p.Standing = CannotSay
		return p
	}
	p.NotBefore = r.notBefore
	if r.told {
		p.Band = band(r.ends)
	}
	if st.kind == DemoldTime && m.mixedLayers(st) {
		p.Why = append(p.Why, "layers of another rubber lie under it, and this goes by the last: touch their cups as well")
	}
	why, unsure := t.doubtful(m, st)
	if why != "" {
		p.Why = append([]string{why}, p.Why...)
	}
	if unsure && why == "" {
		p.Why = append(p.Why, "what was found leaves it open: touch again")
	}
	p.Standing = t.cureStanding(st, r.ends, r.told && !unsure, r.broken, why != "", unsure)
	if n := m.layersOn(); st.kind == DemoldTime && n > 0 && n < m.begin.Design.Layers && (p.Standing == Maybe || p.Standing == Ready) {
		p.Standing = Running // of a layer: nothing is demolded before the last one is on
		p.Why = append(p.Why, "more layers are to come: the cure that counts begins with the last")
	}
	if st.kind == DemoldTime && p.Standing != Ready && p.Standing != Doubtful {
		if p.ColdFrom = t.coldFrom(r.ahead, st.of.DoubtBelowC, r.ends[likely]); !p.ColdFrom.IsZero() {
			p.Why = append(p.Why, fmt.Sprintf("the air is below %.0f °C (%.0f °F), or likely to be before it is cured: keep it warm", st.of.DoubtBelowC, st.of.DoubtBelowC*9/5+32))
		}
	}
	return p
}

// coldFrom is the newest sample where that is below a temperature, else the first whole hour before an end that
// is likely at which half of all paths are below it; zero = none. Without an end it is looked for as far as the
// forecast goes.
func (t *teller) coldFrom(a *ahead, belowC float64, end int64) time.Time {
	switch {
	case a.paths == nil:
		return time.Time{}
	case a.last < belowC:
		return instant(a.from)
	}
	for k := 1; k < forecast.Steps; k++ {
		at := a.from + int64(k)*3600e3
		if end != 0 && at > end {
			break
		}
		cold := 0
		for i := range pathCount {
			if a.paths.Row(i)[k] < belowC {
				cold++
			}
		}
		if at >= t.now && 2*cold >= pathCount {
			return instant(at)
		}
	}
	return time.Time{}
}

// reckoned is what can be told of one event of a step.
type reckoned struct {
	ahead        *ahead
	ends         [quantiles]int64
	told, broken bool
	why          []string
	notBefore    time.Time
}

// reckon tells when an event is reached; ok is false where nothing was ever measured.
func (t *teller) reckon(m *mold, st *step, f *cureFold) (r reckoned, ok bool) {
	a, ok := t.felt(m)
	if st.kind == WorkingLife { // a cup stands in the air, and not on the pattern
		a = t.sight(m.air)
		ok = a != nil
	}
	if !ok {
		return reckoned{why: []string{t.silent(m)}}, false
	}
	r.ahead = a
	r.ends, r.told = f.project(a, t.builds[st.build] >= crowd)
	r.broken = t.broken(st.mark.At.UnixMilli(), f.crossed[late])
	switch why := t.silent(m); {
	case r.broken:
		r.why, r.told = append(r.why, brokenWhy), false
	case why != "" && f.crossed[late] == 0:
		r.why, r.told = append(r.why, why), false
	case f.tooFar():
		r.why, r.told = append(r.why, "it was too far outside the temperatures this material is known for: go by the cup"), false
	case !r.told:
		r.why = append(r.why, "the end lies beyond the three days that can be forecast, or never comes: warm the place")
		r.notBefore = notBefore(r.ends[early], t.now)
	}
	return r, true
}

const brokenWhy = "the board was off for a time that nobody knows, since its clock was not set: go by the cup, or correct the mark"

// notBefore is a bound still ahead, or no bound.
func notBefore(at, now int64) time.Time {
	if at <= now {
		return time.Time{}
	}
	return instant(at)
}

// inOrder keeps the band from crossing itself where a place was passed under an older spread.
func inOrder(ends *[quantiles]int64) {
	for i := 1; i < quantiles; i++ {
		if ends[i] != 0 && ends[i] < ends[i-1] {
			ends[i] = ends[i-1]
		}
	}
}

func band(ends [quantiles]int64) Band {
	return Band{Earliest: instant(ends[early]), Likely: instant(ends[likely]), Latest: instant(ends[late])}
}

// cureStanding judges a cure or a working life. A finding at the bench outranks any projection.
func (t *teller) cureStanding(st *step, ends [quantiles]int64, told, broken, doubtful, unsure bool) Standing {
	crossed := st.cure.crossed
	if st.kind == WorkingLife {
		if broken {
			return Ending // early to warn: it may be over long since
		}
		return t.workStanding(crossed, ends, told)
	}
	switch {
	case doubtful:
		return Doubtful
	case broken || unsure:
		return CannotSay
	case crossed[late] != 0 && crossed[late] <= t.now && !st.cure.tooFar():
		return Ready
	case !told:
		return CannotSay
	case ends[early] <= t.now:
		return Maybe
	}
	return Running
}

// workStanding is early to warn: one in ten is enough, and a silent probe does not hush it.
func (t *teller) workStanding(crossed, ends [quantiles]int64, told bool) Standing {
	switch {
	case crossed[late] != 0 && crossed[late] <= t.now:
		return Over
	case ends[early] != 0 && ends[early] <= t.now:
		return Ending
	case !told:
		return CannotSay
	}
	return Running
}

// late says that a cup or mold of a rubber that is not judged further was found soft past the time by
// which nine in ten are firm, or nothing.
func (m *mold) late(st *step) string {
	late := st.cure.crossed[late]
	c, ok := m.lastCheck(st.mark.At.UnixMilli(), Mold, Cup)
	if ok && c.Found.Soft() && late != 0 && c.At.UnixMilli() >= late {
		return fmt.Sprintf("the %s was found %s past the time by which nine in ten are firm", c.Of, c.Found)
	}
	return ""
}

// doubtful says why no projection may be believed, or nothing: what was found at the bench outranks it.
// unsure is true where what was found leaves it open.
func (t *teller) doubtful(m *mold, st *step) (why string, unsure bool) {
	if st.kind != DemoldTime {
		return "", false
	}
	d := t.judged(m)
	switch {
	case d == nil:
		return m.late(st), false
	case d.Verdict == doubt.Inhibited.String() || d.Verdict == doubt.BadBatch.String():
		return d.Says, false
	case d.Verdict == doubt.CannotSay.String() && d.soft: // a firm cup alone says nothing against its mold
		return m.late(st), true
	}
	return "", false
}

// share is how far the cure has likely come.
func (f *cureFold) share() float64 {
	if !f.event.Known() {
		return 0
	}
	return share(f.core / f.event.Ref.Seconds())
}

// remarks are what happened that a maker should know of.
func (f *cureFold) remarks(of material.Material) []string {
	why := gapWords(f.gap)
	if f.lag == noLagSD {
		why = append(why, "the build of the mold is not told, so this goes by the air alone: the band is wider")
	}
	if f.below > 0 {
		why = append(why, fmt.Sprintf("colder than the material's floor for %s: not counted", SpanText(f.below)))
	}
	if f.outsideSD() > 0 && !f.tooFar() {
		why = append(why, "it was outside the temperatures this material is known for: the band is wider")
	}
	if f.coldest < of.DoubtBelowC {
		why = append(why, fmt.Sprintf("some products of this class do not cure at all below about %.0f °C (%.0f °F): go by the cup, not by the clock", of.DoubtBelowC, of.DoubtBelowC*9/5+32))
	}
	return why
}

// project tells when the places of the band are reached; ok is false when the latest is not within the
// forecast. An end that is not is zero, but the earliest is then as far as the forecast goes.
func (f *cureFold) project(a *ahead, shared bool) (ends [quantiles]int64, ok bool) {
	if a.paths == nil {
		return f.crossed, f.crossed[late] != 0
	}
	sd := f.lnSDAtEnd(a)
	ages := f.ages()
	b := f.bandFrom(a, shared, sd, ages[likely], likely)
	if f.gap > 0 || f.cup.ok() { // what a gap or cold parts may have added, or not, moves the ends apart
		b.Earliest = f.bandFrom(a, shared, sd, ages[early], early).Earliest
		b.Latest = f.bandFrom(a, shared, sd, ages[late], late).Latest
	}
	bound, beyond := b.NotBefore()
	if beyond {
		b = forecast.Band{Earliest: bound}
	}
	for place, hours := range [quantiles]float64{early: b.Earliest, likely: b.Likely, late: b.Latest} {
		switch {
		case f.crossed[place] != 0:
			ends[place] = f.crossed[place]
		case !beyond || place == early:
			ends[place] = a.from + int64(math.Round(hours*3600e3))
		}
	}
	inOrder(&ends)
	return ends, !beyond || f.crossed[late] != 0
}

// bandFrom is the calibrated band of the hours still to go from an age. Where the mold's build is known
// every path is run through it.
func (f *cureFold) bandFrom(a *ahead, shared bool, sd, age float64, place int) forecast.Band {
	ref := f.event.Ref.Seconds()
	if f.mold.ok() && f.mold.state != nil {
		ahead := f.core - age // what a gap may have added counts as aged already
		hours, err := f.mold.completions(a, shared, func(z float64) float64 { return ref*math.Exp(z*sd) + ahead })
		if err == nil {
			return a.fore.Band(hours)
		}
	}
	need := func(z float64) float64 { return ref*math.Exp(z*sd) - age }
	if f.cup.ok() {
		return a.fore.Band(f.cup.completions(a, f.law, a.skip(f.walk.front), place == early, need))
	}
	return a.fore.Band(a.completions(f.law, a.skip(f.walk.front), need))
}

// lnSDAtEnd is the spread of ln(time) when the cure will have ended, along the mean of all paths.
func (f *cureFold) lnSDAtEnd(a *ahead) float64 {
	acc, mean := f.likely, a.mean()
	for k := 1; k < len(mean) && acc.Age < f.event.Ref.Seconds(); k++ {
		f.law.Add(&acc, mean[k-1], mean[k], 3600)
	}
	return f.lnSD(acc)
}
