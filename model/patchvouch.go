package model

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"pourward/model/cure"
	"pourward/model/doubt"
	"pourward/model/material"
)

// patchGood is how long a patch that passed vouches where the shop does not say; an assumption: products
// change without notice, and so do stored clays and prints.
const patchGood = 180 * 24 * time.Hour

// trust is how far patches vouch for what is to be poured on a mold.
type trust struct {
	vouch   *Vouch        // nil = none does
	reasons []Reason      // why none does, or one that failed
	surface doubt.Surface // what they say of the surface, for the weighing of what is touched later
}

// trusted is the trust in a mold; it is worked out once for an outlook.
func (t *teller) trusted(m *mold) trust {
	x, ok := t.trusts[m]
	if !ok {
		x = t.trustIn(m)
		t.trusts[m] = x
	}
	return x
}

// patchReasons is what test patches say against pouring on a mold: one that failed decides, and where none
// vouches, each thing that it does not vouch for is told apart.
func (t *teller) patchReasons(m *mold) []Reason { return t.trusted(m).reasons }

func (t *teller) trustIn(m *mold) trust {
	of, err := t.shop.setup.Shelf.Find(m.rubber(t.now))
	if err != nil {
		return trust{}
	}
	failed, passed := t.matching(m, of)
	x := t.vouching(m, of, passed)
	x.surface = t.surfaceBy(m, of, failed, passed)
	own, touched := m.ownPatch(t.now)
	ownFirm := touched && own.Found == Firm && atLeast(m.prep(t.now), m.prep(own.At.UnixMilli()))
	switch {
	case ownFirm:
		x = trust{vouch: &Vouch{At: own.At, Lot: m.lot(t.now)}, surface: doubt.Surface{Patch: doubt.Passed}}
	case touched && own.Found == Spoiled:
		x = failedBy("The patch beside this mold was found spoiled: the surface inhibits. Do not pour on it.")
	}
	switch {
	case failed == nil:
	case x.vouch != nil && x.vouch.At.After(failed.ReadAt):
		x.reasons = append(x.reasons, Reason{Code: ReasonPatchDisagree, Caution: true,
			Text: "Patches disagree: one failed on this face with this prep and material, and another passed after it. Find out what was different."})
	default:
		surface := x.surface
		x = failedBy(fmt.Sprintf("Patch %s failed on this face with this prep and material: %s. Do not pour on it.", failed.Name, failed.Says))
		if !ownFirm {
			x.surface = surface
		}
	}
	if !of.Inhibitable { // nothing is asked for; what was found still counts
		x.reasons = slices.DeleteFunc(x.reasons, func(r Reason) bool { return r.Caution && r.Code != ReasonPatchDisagree })
	}
	return x
}

// failedBy is the trust in a surface on which a patch failed.
func failedBy(why string) trust {
	return trust{reasons: []Reason{{Code: ReasonPatchFailed, Text: why}}, surface: doubt.Surface{Patch: doubt.Failed}}
}

// surfaceBy is what patches say of a surface whatever the air is like now: the newest failure, unless
// something passed after it; else the pass in the greatest cold that is neither too old nor of another lot.
func (t *teller) surfaceBy(m *mold, of material.Material, failed *PatchOutlook, passed []*PatchOutlook) doubt.Surface {
	var best *PatchOutlook
	for _, p := range passed {
		since := failed == nil || p.ReadAt.After(failed.ReadAt)
		if since && !t.stale(p) && !t.otherLot(m, p) && (best == nil || p.Cold.compare(best.Cold) < 0) {
			best = p
		}
	}
	switch {
	case best == nil && failed != nil:
		return doubt.Surface{Patch: doubt.Failed}
	case best == nil:
		return doubt.Surface{}
	case !best.Cold.Known: // as if it had been at room temperature
		return doubt.Surface{Patch: doubt.Passed}
	}
	return doubt.Surface{Patch: doubt.Passed, PatchColdK: of.RefC - best.Cold.MeanC}
}

// ownPatch is the newest touch, before the pour, of a patch that lies beside the mold.
func (m *mold) ownPatch(now int64) (own Mark, ok bool) {
	if m.isPatch() {
		return own, false
	}
	for _, c := range m.marks {
		switch {
		case c.Kind == Poured || c.Kind == LayerOn || c.At.UnixMilli() > now:
			return own, ok
		case c.Kind == Checked && c.Of == Patch:
			own, ok = c, true
		}
	}
	return own, ok
}

// matching are the patches on a mold's face with its material that tell of its prep: the newest that failed
// under as many coats or more, and all that passed under as many or fewer.
func (t *teller) matching(m *mold, of material.Material) (failed *PatchOutlook, passed []*PatchOutlook) {
	face, prep := PlainFace(m.begin.Face), m.prep(t.now)
	if face == "" || m.isPatch() {
		return nil, nil
	}
	all := t.proven()
	for i := range all {
		p := &all[i]
		if p.Material != of.Name || PlainFace(p.Face) != face {
			continue
		}
		switch {
		case p.State == PatchFailed && atLeast(p.Prep, prep) && (failed == nil || !p.ReadAt.Before(failed.ReadAt)):
			failed = p
		case p.State == PatchPassed && atLeast(prep, p.Prep):
			passed = append(passed, p)
		}
	}
	return failed, passed
}

// vouching chooses among the patches that passed: one that vouches, the one of the greatest cold first; else
// the one that fails to for the fewest reasons.
func (t *teller) vouching(m *mold, of material.Material, passed []*PatchOutlook) trust {
	if len(passed) == 0 {
		return trust{reasons: []Reason{t.noPatch(m)}}
	}
	course := t.courseOf(m, of)
	type candidate struct {
		*PatchOutlook
		reasons []Reason
	}
	var all []candidate
	for _, p := range passed {
		all = append(all, candidate{p, t.against(m, p, course)})
	}
	slices.SortStableFunc(all, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(len(a.reasons), len(b.reasons)), a.Cold.compare(b.Cold), b.ReadAt.Compare(a.ReadAt))
	})
	best := all[0]
	x := trust{reasons: best.reasons}
	if len(best.reasons) == 0 {
		x.vouch = &Vouch{Patch: best.Name, Cold: best.Cold, At: best.ReadAt, Lot: best.Lot}
	}
	return x
}

// compare puts the greater cold first, and what is not known last.
func (c Cold) compare(o Cold) int {
	switch {
	case c.Known != o.Known && c.Known:
		return -1
	case c.Known != o.Known:
		return 1
	}
	return cmp.Or(cmp.Compare(c.MeanC, o.MeanC), cmp.Compare(c.LowestC, o.LowestC))
}

// noPatch says that no patch tells of a mold's face, and why.
func (t *teller) noPatch(m *mold) Reason {
	text := "No test patch on this surface was found firm: no list of poisons is complete, so test first."
	if m.begin.Face == "" {
		text = "No test patch vouches, since the face of this mold is not told: say what it is, and set a patch on the like."
	}
	return Reason{Code: ReasonPatch, Caution: true, Text: text}
}

// against is everything that keeps a patch from vouching for a mold.
func (t *teller) against(m *mold, p *PatchOutlook, course course) []Reason {
	var out []Reason
	if why := course.colderThan(p); why != "" {
		out = append(out, Reason{Code: ReasonPatchColder, Caution: true, Text: why + " Set a new patch where it is as cold as here."})
	}
	if t.stale(p) {
		out = append(out, Reason{Code: ReasonPatchOld, Caution: true,
			Text: fmt.Sprintf("Patch %s passed more than %d days ago, and products change without notice. Set a new patch.", p.Name, int(t.shop.patchGood().Hours()/24))})
	}
	if t.otherLot(m, p) {
		out = append(out, Reason{Code: ReasonPatchLot, Caution: true,
			Text: fmt.Sprintf("Patch %s was of lot %s, and this is lot %s. Set a new patch.", p.Name, p.Lot, m.lot(t.now))})
	}
	return out
}

func (s *Shop) patchGood() time.Duration {
	if s.setup.PatchGood > 0 {
		return s.setup.PatchGood
	}
	return patchGood
}

func (t *teller) stale(p *PatchOutlook) bool {
	return t.now-p.ReadAt.UnixMilli() > t.shop.patchGood().Milliseconds()
}

// otherLot reports whether both lots are told and differ.
func (t *teller) otherLot(m *mold, p *PatchOutlook) bool {
	lot := m.lot(t.now)
	return lot != "" && p.Lot != "" && !strings.EqualFold(strings.TrimSpace(lot), strings.TrimSpace(p.Lot))
}

// course is how cold it is where a mold stands: now, and as far as it can be foreseen through the cure of what
// is poured now. NaN = not known.
type course struct{ nowC, meanC, lowestC float64 }

// courseOf goes by the coldest of what the mold feels now, and by the mean of all ways the temperature may go.
func (t *teller) courseOf(m *mold, of material.Material) course {
	c := course{nowC: math.NaN(), meanC: math.NaN(), lowestC: math.NaN()}
	for _, p := range []*place{m.air, m.surf} {
		if p == nil || !p.fresh(t.now) {
			continue
		}
		if l, ok := p.track.last(); ok && !(l.temp >= c.nowC) {
			c.nowC = l.temp
		}
	}
	a, ok := t.felt(m)
	event := t.shop.learnedNow(of)
	if !ok || a.paths == nil || !event.Known() {
		return c
	}
	law, mean := law(of, event), a.mean()
	var acc cure.Account
	sum, hours := 0.0, 0
	c.lowestC = mean[0]
	for k := 1; k < len(mean) && acc.Age < event.Ref.Seconds(); k++ {
		law.Add(&acc, mean[k-1], mean[k], 3600)
		sum, hours, c.lowestC = sum+(mean[k-1]+mean[k])/2, hours+1, min(c.lowestC, mean[k])
	}
	c.meanC = sum / float64(hours)
	return c
}

// colderThan says why a patch was not as cold as it is here, or nothing. The air now, and the mean to come,
// are held against the mean that the patch had: a moment of cold proves nothing of a whole cure. The lowest to
// come is held against the lowest it had.
func (c course) colderThan(p *PatchOutlook) string {
	if !p.Cold.Known {
		return fmt.Sprintf("How cold patch %s was while it cured is not known.", p.Name)
	}
	const margin = doubt.VouchMarginK
	told := fmt.Sprintf("Patch %s was proven at %s on the mean, %s at the lowest", p.Name, bothUnits(p.Cold.MeanC), bothUnits(p.Cold.LowestC))
	switch {
	case c.nowC < p.Cold.MeanC-margin:
		return told + ", and it is colder here now."
	case c.meanC < p.Cold.MeanC-margin || c.lowestC < p.Cold.LowestC-margin:
		return told + ", and it will be colder here before a pour has cured."
	}
	return ""
}

// bothUnits writes a temperature in both units.
func bothUnits(tempC float64) string {
	return fmt.Sprintf("%.1f °C (%.0f °F)", tempC, tempC*9/5+32)
}

// riskReasons tells at the start what a mold's face is known to be poisoned by, as long as no patch vouches.
func (t *teller) riskReasons(m *mold) []Reason {
	of, err := t.shop.setup.Shelf.Find(m.rubber(t.now))
	if err != nil || t.trusted(m).vouch != nil {
		return nil
	}
	var names []string
	for _, r := range risks(m.begin.Face, of.Inhibitable) {
		names = append(names, r.Name)
	}
	if len(names) == 0 {
		return nil
	}
	return []Reason{{Code: ReasonRisky, Caution: true,
		Text: fmt.Sprintf("This face is known to inhibit such a rubber (%s). %s", strings.Join(names, "; "), doubt.NoListIsComplete)}}
}

// surface is what is known of the surface under what cures: its prep, and what patches say of it. A patch is
// judged by itself.
func (t *teller) surface(m *mold) doubt.Surface {
	var s doubt.Surface
	if !m.isPatch() {
		s = t.trusted(m).surface
	}
	risky := len(doubt.RiskyIn(m.begin.Face)) > 0
	switch sealed := t.sealed(m); {
	case risky && sealed:
		s.Prep = doubt.RiskySealed
	case risky:
		s.Prep = doubt.Risky
	case sealed:
		s.Prep = doubt.Sealed
	}
	return s
}

// sealed reports whether a seal coat is on the face.
func (t *teller) sealed(m *mold) bool {
	return slices.ContainsFunc(m.prep(t.now), func(name string) bool {
		of, err := t.shop.setup.Shelf.Find(name)
		return err == nil && of.Kind == material.Sealer
	})
}

// tellFace tells what a mold's face is, and which patch vouches for it.
func (t *teller) tellFace(m *mold, o *MoldOutlook) {
	o.Face, o.Prep = m.begin.Face, m.prep(t.now)
	of, err := t.shop.setup.Shelf.Find(o.Rubber)
	o.Risks = risks(o.Face, err == nil && of.Inhibitable)
	if o.Open() && !o.Poured {
		o.Vouch = t.trusted(m).vouch
	}
}
