package model

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strings"
	"time"

	"pourward/model/cure"
	"pourward/model/cure/fit"
	"pourward/model/material"
)

// exposure is the warmth something has had from one instant to another, sorted by temperature: all that
// a cure under any law needs to know of it.
type exposure struct {
	walk  pieces
	until int64
	bins  map[int]warmth
	gaps  map[int]warmth // of stretches that were not measured, as if the temperature had moved linearly
	low   float64        // lowest that was measured, °C; +Inf = nothing was
}

// warmth is the time spent in one bin, and its mean temperature as a weighted sum.
type warmth struct{ seconds, degreeSeconds float64 }

// binK is the width of a bin; within it the mean temperature stands for all.
const binK = 0.25

func newExposure(w pieces, until int64) *exposure {
	e := &exposure{walk: w, until: until}
	e.restart()
	return e
}

func (e *exposure) restart() {
	e.walk.start()
	e.bins, e.gaps, e.low = map[int]warmth{}, map[int]warmth{}, math.Inf(1)
}

func (e *exposure) complete() bool { return e.walk.front >= e.until }

func (e *exposure) advance() {
	for {
		p, ok := e.walk.next(e.until)
		if !ok {
			return
		}
		mean, seconds := (p.from.felt()+p.to.felt())/2, p.seconds()
		bin := int(math.Floor(mean / binK))
		into := e.bins
		if p.gap {
			into = e.gaps
		} else {
			e.low = min(e.low, p.from.felt(), p.to.felt())
		}
		w := into[bin]
		into[bin] = warmth{w.seconds + seconds, w.degreeSeconds + mean*seconds}
	}
}

// history is the exposure in the form the regression takes, coldest first.
func (e *exposure) history() fit.History { return pieceHistory(e.bins) }

func pieceHistory(bins map[int]warmth) fit.History {
	keys := make([]int, 0, len(bins))
	for k := range bins {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	var h fit.History
	for _, k := range keys {
		w := bins[k]
		mean := w.degreeSeconds / w.seconds
		h = append(h, fit.Piece{FromC: mean, ToC: mean, Seconds: w.seconds})
	}
	return h
}

// age is the cure age of the exposure under a law, s: what was measured, and what gaps would have added had
// the temperature moved linearly.
func (e *exposure) age(law cure.Arrhenius) (sure, unsure float64) {
	for _, p := range pieceHistory(e.bins) {
		sure += law.Rate(p.FromC) * p.Seconds
	}
	for _, p := range pieceHistory(e.gaps) {
		unsure += law.Rate(p.FromC) * p.Seconds
	}
	return sure, unsure
}

// finding is what one batch taught about its material: tacky until, firm from. Only the cup counts, the
// control, and the mold that came off: a surface may be poisoned.
type finding struct {
	at          int64  // instant of the newest check in it
	id          string // of the marks it rests on
	material    string
	tacky, firm *exposure // tacky is nil where it was never found so
	factor      float64   // what the additives of that batch did to its times
}

func (f *finding) exposures() []*exposure {
	var out []*exposure
	for _, e := range []*exposure{f.tacky, f.firm} {
		if e != nil {
			out = append(out, e)
		}
	}
	return out
}

// usable reports whether everything it rests on is known.
func (f *finding) usable() bool {
	for _, e := range f.exposures() {
		if !e.complete() || len(e.gaps) > 0 || len(e.bins) == 0 {
			return false
		}
	}
	return true
}

// print tells findings apart that rest on the same marks but on other readings: late ones change what they
// teach.
func (f *finding) print() uint64 {
	h := fnv.New64a()
	for _, e := range f.exposures() {
		for _, p := range e.history() {
			var b [16]byte
			binary.LittleEndian.PutUint64(b[:8], math.Float64bits(p.FromC))
			binary.LittleEndian.PutUint64(b[8:], math.Float64bits(p.Seconds))
			h.Write(b[:])
		}
	}
	return h.Sum64()
}

func (f *finding) check() fit.Check {
	firm := plainBatch(f.firm.history(), f.factor)
	if f.tacky == nil {
		return fit.AlreadyFirm(firm)
	}
	return fit.Between(plainBatch(f.tacky.history(), f.factor), firm)
}

// addFindings collects what the cups of the mold's batches taught.
func (m *mold) addFindings() {
	for _, st := range m.steps {
		if st.kind != DemoldTime {
			continue
		}
		if f := m.findingOf(st); f != nil {
			m.findings = append(m.findings, f)
		}
	}
}

func (m *mold) findingOf(st *step) *finding {
	var tacky, firm Mark
	for _, c := range m.marks {
		at := c.At.UnixMilli()
		if at <= st.mark.At.UnixMilli() || st.end != 0 && at > st.end {
			continue
		}
		switch {
		case c.Kind == Checked && c.Of == Cup && c.Found.Soft() && firm.ID == 0:
			tacky = c
		case firm.ID == 0 && (c.Kind == Checked && c.Of == Cup && c.Found == Firm || c.Kind == Demolded):
			firm = c
		}
	}
	if firm.ID == 0 { // a cup that never became firm may be a bad batch, and teaches nothing about good ones
		return nil
	}
	f := &finding{material: st.of.Name, id: fmt.Sprintf("%d/%d/%d", st.mark.ID, tacky.ID, firm.ID)}
	f.factor = mixingOf(m.marks, st).Batch.TimeFactor()
	if f.factor != 1 {
		f.id += fmt.Sprintf("/x%g", f.factor)
	}
	if tacky.ID != 0 {
		f.tacky = newExposure(m.walk(st.mark), tacky.At.UnixMilli())
	}
	f.at, f.firm = firm.At.UnixMilli(), newExposure(m.walk(st.mark), firm.At.UnixMilli())
	return f
}

// batchSD is how far batches of one product differ, standard deviation of ln(time); an assumption that
// the maker's own checks correct.
const batchSD = 0.08

// learn is what the shop knows of a material's demold time by the findings of a span, its end left out,
// and which they are. Without any it is what the shelf says.
func (s *Shop) learn(of material.Material, from, before int64) (material.Event, string) {
	var used []*finding
	for _, m := range s.molds {
		for _, f := range m.findings {
			if f.material == of.Name && f.at >= from && f.at < before && f.usable() {
				used = append(used, f)
			}
		}
	}
	shelf := withSecond(of, of.Demold, of.Second.Demold)
	if len(used) == 0 || !shelf.Known() || shelf.EaJ == 0 {
		return shelf, ""
	}
	slices.SortFunc(used, func(a, b *finding) int { return cmp.Or(cmp.Compare(a.at, b.at), strings.Compare(a.id, b.id)) })
	ids := make([]string, len(used))
	checks := make([]fit.Check, len(used))
	for i, f := range used {
		ids[i], checks[i] = fmt.Sprintf("%s@%x", f.id, f.print()), f.check()
	}
	key := strings.Join(ids, " ")
	memo := of.Name + " " + key
	if e, ok := s.learned[memo]; ok {
		return e, key
	}
	e := learnEvent(of, shelf, checks)
	s.learned[memo] = e
	return e, key
}

// learnedNow is the demold time by the findings of the last year: what is poured now is reckoned with.
func (s *Shop) learnedNow(of material.Material) material.Event {
	e, _ := s.learn(of, s.newest-learnFor.Milliseconds(), math.MaxInt64)
	return e
}

// sheetSD is how well a time on a data sheet is taken to be known where it does not say, relative standard
// deviation; an assumption.
const sheetSD = 0.1

// withSecond corrects the activation energy of an event by the time at a second temperature, where the data
// sheet prints one.
func withSecond(of material.Material, e material.Event, second time.Duration) material.Event {
	if second <= 0 || !e.Known() {
		return e
	}
	rel := of.Second.RelSD
	if rel == 0 {
		rel = sheetSD
	}
	two, err := fit.FromTwo(cure.Timing{TempC: of.RefC, Seconds: e.Ref.Seconds()},
		cure.Timing{TempC: of.Second.TempC, Seconds: second.Seconds()}, rel)
	if err != nil {
		return e // two times at one temperature tell nothing
	}
	ea := fit.Normal{Mean: e.EaJ, SD: e.EaSDJ}.Update(two)
	e.EaJ, e.EaSDJ, e.EaFrom = ea.Mean, ea.SD, of.Second.Source
	return e
}

// learnEvent updates what the shelf says of a demold time by checks. Checks that cannot all be true teach
// nothing.
func learnEvent(of material.Material, e material.Event, checks []fit.Check) material.Event {
	post, err := fit.Learn(fit.Prior{
		RefC: of.RefC, FloorC: of.FloorC,
		LnSeconds: fit.Normal{Mean: math.Log(e.Ref.Seconds()), SD: math.Sqrt(max(0, e.LnSD*e.LnSD-batchSD*batchSD))},
		EaJ:       fit.Normal{Mean: e.EaJ, SD: e.EaSDJ},
		LnSigma:   fit.Normal{Mean: math.Log(batchSD), SD: 0.5},
	}, checks)
	if err != nil {
		return e
	}
	e.Ref = time.Duration(math.Exp(post.LnSeconds.Mean) * float64(time.Second))
	e.LnSD = math.Hypot(post.LnSeconds.SD, post.Sigma())
	e.EaJ, e.EaSDJ, e.Cov = post.EaJ.Mean, post.EaJ.SD, post.Cov
	own := fmt.Sprintf("corrected by %d of your own batches", len(checks))
	e.Source.Text += "; " + own
	if !post.EaHeld {
		e.EaFrom.Text += "; " + own
	}
	return e
}

// law is the cure law of an event of a material.
func law(of material.Material, e material.Event) cure.Arrhenius {
	return cure.Arrhenius{EaJ: e.EaJ, RefC: of.RefC, FloorC: of.FloorC}
}

// relearn folds again every mold whose material the shop has come to know better, or otherwise.
func (s *Shop) relearn(name string) error {
	for _, m := range s.molds {
		for _, st := range m.steps {
			if st.kind != DemoldTime || st.of.Name != name {
				continue
			}
			if _, key := s.learn(st.of, st.learnedFrom(), st.learnedBefore()); key == st.learned {
				continue
			}
			next, err := s.newMold(m.marks)
			if err != nil {
				return err
			}
			s.molds[m.name], s.feeling = next, nil
			break
		}
	}
	return nil
}

// learnedFrom is the instant from which on findings count for a step: it follows from its mark, so that the
// step stays as it was told however old those findings grow.
func (st *step) learnedFrom() int64 { return st.mark.At.UnixMilli() - learnFor.Milliseconds() }

// learnedBefore is the instant up to which findings count for a step: what came after its end teaches
// others.
func (st *step) learnedBefore() int64 {
	if st.end != 0 {
		return st.end
	}
	return math.MaxInt64
}
