package model

import (
	"math"
	"time"

	"pourward/model/cure"
	"pourward/model/doubt"
)

// Doubt is the answer to "late, inhibited, or a bad batch?" for what is curing now.
type Doubt struct {
	Verdict         string // wait, surface inhibits, batch bad, fine, cannot say yet
	Says            string // what was found and what it means
	Do              []string
	Cautions        []string // of those steps
	NothingWrong    float64  // probabilities; the five sum to 1
	SurfaceInhibits float64
	BatchBad        float64
	BothWrong       float64
	OnlyCup         float64
	Next            string        // the touch that would tell most; empty = none is worth the walk
	NextAt          time.Time     // when; zero = now, or not known
	Routes          []doubt.Route // where the surface inhibits: the ways on, in the order to try them

	soft bool // something was last found soft or spoiled
}

// look is one touch of what is curing, with the warmth it had had by then.
type look struct {
	mark   Mark
	warmth *exposure
}

// addLooks collects the touches since the newest pour.
func (m *mold) addLooks() {
	st := m.curing()
	if st == nil {
		return
	}
	for _, c := range m.marks {
		if c.Kind == Checked && c.At.After(st.mark.At) && thing(c.Of) >= 0 {
			m.looks = append(m.looks, look{c, newExposure(m.walk(st.mark), c.At.UnixMilli())})
		}
	}
}

// curing is the newest pour's step; nil before the first.
func (m *mold) curing() *step {
	for i := len(m.steps) - 1; i >= 0; i-- {
		if m.steps[i].kind == DemoldTime {
			return m.steps[i]
		}
	}
	return nil
}

// thing translates what was touched; -1 for what is no part of the cure.
func thing(s Subject) int {
	switch s {
	case Cup:
		return int(doubt.Cup)
	case Patch:
		return int(doubt.Patch)
	case Mold:
		return int(doubt.Mold)
	}
	return -1
}

func foundAs(f Finding) doubt.Finding {
	switch f {
	case Tacky:
		return doubt.Tacky
	case Liquid:
		return doubt.Liquid
	case Spoiled:
		return doubt.Spoiled
	}
	return doubt.Firm
}

// check is a look in the terms of the judgement: its age against the reference time.
func (l look) check(law cure.Arrhenius, ref float64) (doubt.Check, bool) {
	sure, unsure := l.warmth.age(law)
	if !l.warmth.complete() || sure+unsure <= 0 {
		return doubt.Check{}, false
	}
	c := doubt.Check{Of: doubt.Thing(thing(l.mark.Of)), Found: foundAs(l.mark.Found), LnAge: math.Log((sure + unsure) / ref)}
	if unsure > 0 { // a gap may have added nothing, or twice what a line between its ends would
		c.LnLess = math.Log((sure + unsure) / sure) // +Inf where nothing is sure
		c.LnMore = math.Log((sure + 2*unsure) / (sure + unsure))
	}
	return c, true
}

// judge weighs what was touched of a curing rubber that can be inhibited; nil where there is nothing to
// weigh.
func (t *teller) judge(m *mold) *Doubt {
	st := m.curing()
	if st == nil || !st.of.Inhibitable || !st.cure.event.Known() || m.end != 0 && m.end <= t.now {
		return nil
	}
	c, ok := t.doubtCase(m, st)
	if !ok {
		return nil
	}
	j, err := c.Judge()
	if err != nil {
		return nil // a case made from our own marks is possible
	}
	w := j.Words()
	d := &Doubt{
		Verdict: j.Verdict.String(), Says: w.Said, Do: w.Do, Cautions: w.Cautions,
		NothingWrong: j.P[doubt.NothingWrong], SurfaceInhibits: j.P[doubt.SurfaceInhibits],
		BatchBad: j.P[doubt.BatchBad], BothWrong: j.P[doubt.BothWrong], OnlyCup: j.P[doubt.OnlyCup],
	}
	for _, s := range j.Seen {
		d.soft = d.soft || s.Spoiled || s.Touched && s.Found != doubt.Firm
	}
	if j.Verdict == doubt.Inhibited {
		d.Routes = doubt.Routes()
	}
	t.nextTouch(m, st, c, d)
	return d
}

// doubtCase puts marks and warmth together; ok is false while nothing was touched.
func (t *teller) doubtCase(m *mold, st *step) (doubt.Case, bool) {
	f := st.cure
	ref := f.event.Ref.Seconds()
	c := doubt.Case{Spread: doubt.Spread{Shared: min(doubt.MaxSD, f.lnSD(f.likely))}, Surface: t.surface(m)}
	c.Priors = t.shop.priors(st)
	if rate := f.meanRate(); rate > 0 {
		c.ColdK = f.law.RefC - f.law.TempC(rate)
	}
	for _, l := range m.looks {
		if k, ok := l.check(f.law, ref); ok && l.mark.At.UnixMilli() <= t.now && len(c.Checks) < doubt.MaxChecks {
			c.Checks = append(c.Checks, k)
		}
	}
	return c, len(c.Checks) > 0
}

// nextTouch says which touch would settle it, and when.
func (t *teller) nextTouch(m *mold, st *step, c doubt.Case, d *Doubt) {
	f := st.cure
	lnNow := math.Log(f.core / f.event.Ref.Seconds())
	reach := []doubt.Reachable{{Of: doubt.Cup, LnAge: lnNow}, {Of: doubt.Mold, LnAge: lnNow}}
	if m.isPatch() {
		reach[1].Of = doubt.Patch
	}
	for _, l := range m.looks {
		if l.mark.Of == Patch && !m.isPatch() {
			reach = append(reach, doubt.Reachable{Of: doubt.Patch, LnAge: lnNow})
			break
		}
	}
	next, ok, err := c.Settle(reach)
	if err != nil || !ok {
		return
	}
	d.Next = next.Words()
	a, known := t.felt(m)
	if !known || a.paths == nil || next.LnAge <= lnNow {
		return
	}
	need := f.event.Ref.Seconds()*math.Exp(next.LnAge) - f.core
	if hours := a.meanFinish(f.law, need); !math.IsInf(hours, 1) {
		d.NextAt = instant(a.from + int64(hours*3600e3))
	}
}
