package model

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"pourward/model/doubt"
)

// proven are all patches told of, in order of time; they are told once for an outlook.
func (t *teller) proven() []PatchOutlook {
	if t.patches != nil {
		return t.patches
	}
	t.patches = []PatchOutlook{}
	for _, m := range t.shop.molds {
		if m.isPatch() && m.shown(t.now) {
			t.patches = append(t.patches, t.patch(m))
		}
	}
	slices.SortFunc(t.patches, func(a, b PatchOutlook) int {
		return cmp.Or(a.Set.Compare(b.Set), strings.Compare(a.Name, b.Name))
	})
	return t.patches
}

// patch tells of one patch. What is over and known stays as it is, and is worked out once.
func (t *teller) patch(m *mold) PatchOutlook {
	if m.told != nil && m.end <= t.now {
		return *m.told
	}
	o := t.newPatch(m)
	if m.end <= t.now && m.settled() {
		m.told = &o
	}
	return o
}

// settled reports whether everything on a patch has been walked to its end.
func (m *mold) settled() bool {
	return m.steps[0].walk().front >= m.end &&
		!slices.ContainsFunc(m.exposures(), func(e *exposure) bool { return !e.complete() })
}

func (t *teller) newPatch(m *mold) PatchOutlook {
	st := m.steps[0]
	o := PatchOutlook{
		Name: m.name, Face: m.begin.Face, Prep: m.begin.Prep, Material: st.of.Name, Lot: m.begin.Batch.Lot,
		Place: m.air.name, Set: m.begin.At, Marks: m.marks,
		Cautions: st.of.Cautions, Risks: risks(m.begin.Face, st.of.Inhibitable), Sources: sources(st),
	}
	over := m.end <= t.now
	if over {
		o.Cure = st.past()
	} else {
		o.Cure = t.cure(m, st)
	}
	x := t.touches(m, st)
	o.State, o.Says = x.state(byTime(o.Cure, over))
	if o.Says == "" {
		o.Says = patchWords(o)
	}
	w := x.advice(o.State)
	o.Do, o.Cautions = w.Do, append(w.Cautions, o.Cautions...)
	switch o.State {
	case PatchPassed:
		o.ReadAt = instant(x.newest)
		if m.proof != nil && m.proof.until <= t.now {
			o.ReadAt, o.Cold = instant(m.proof.until), t.coldOf(m)
		}
	case PatchFailed, PatchBadBatch:
		o.ReadAt = instant(x.newest)
	}
	return o
}

// byTime is the state of a patch as long as no touch decides it.
func byTime(p Projection, over bool) PatchState {
	switch {
	case over:
		return PatchUnsure
	case p.Standing == Ready:
		return PatchDue
	}
	return PatchCuring
}

// patchWords is what is told of a patch that no touch has decided, in words without times.
func patchWords(o PatchOutlook) string {
	switch {
	case o.State == PatchUnsure:
		return "nobody found it firm or spoiled in time: it says nothing of the surface"
	case o.State == PatchDue:
		return "nine in ten like it are firm by now"
	case !o.Cure.Band.Told():
		return "when it can be read cannot be told: go by its cup"
	case o.Cure.Standing == Maybe:
		return "it may be firm; tacky tells nothing yet"
	}
	return "leave it alone: tacky tells nothing yet"
}

// coldOf is how cold a patch was until it was found firm.
func (t *teller) coldOf(m *mold) Cold {
	e := m.proof
	if !e.complete() || t.broken(m.begun(), e.until) {
		return Cold{}
	}
	var sum, seconds, gaps float64
	for _, p := range pieceHistory(e.bins) { // in order, for the same bits
		sum, seconds = sum+p.FromC*p.Seconds, seconds+p.Seconds
	}
	if seconds == 0 || math.IsInf(e.low, 1) {
		return Cold{}
	}
	for _, p := range pieceHistory(e.gaps) {
		sum, gaps = sum+(p.FromC+gapStray)*p.Seconds, gaps+p.Seconds
	}
	if gaps > longestGap.Seconds() {
		return Cold{}
	}
	return Cold{Known: true, LowestC: e.low, MeanC: sum / (seconds + gaps)}
}

// risks is what a face is known to do to a rubber that can be inhibited.
func risks(face string, inhibitable bool) []Risk {
	if !inhibitable {
		return nil
	}
	var out []Risk
	for _, r := range doubt.RiskyIn(face) {
		out = append(out, Risk{r.Name, r.Why, r.Remedy})
	}
	return out
}
