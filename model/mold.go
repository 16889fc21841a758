package model

import (
	"fmt"
	"math"
	"time"

	"pourward/model/material"
)

// mold is one mold or patch in work, folded from its marks and the tracks of the places it feels.
type mold struct {
	name      string
	marks     []Mark // in effect, in order
	begin     Mark
	feelsFrom int64   // no reading before can change anything of it; Unix milliseconds
	stands    []stand // where it stood, one after the other
	legs      []leg   // the same, as its steps walk it
	air       *place  // where it stands now
	surf      *place  // nil = no probe on the pattern
	steps     []*step
	findings  []*finding
	looks     []look
	proof     *exposure     // of a patch: the warmth it had until it was found firm; nil = it was not
	told      *PatchOutlook // of a patch that is over and whose readings are all in: what is told of it from then on
	end       int64         // when it was demolded; 0 = open
}

// step is one thing the mold waits for. Exactly one of coat and cure is set.
type step struct {
	mark    Mark
	kind    StepKind
	name    string
	title   string
	of      material.Material
	end     int64    // when the maker went on; 0 = open
	by      MarkKind // what the maker went on with; empty = open
	coat    *coatFold
	cure    *cureFold // of a layer window: its opening
	shut    *cureFold // of a layer window: its closing
	build   Build     // what its heat is reckoned with
	layers  int       // how many layers were on with it; 0 = none are brushed
	learned string    // which findings its times rest on
	mixing  Mark      // of a cure or working life: the mark by which its batch was mixed
	parts   *parts    // where that batch's parts stood; nil = not told
}

// shownAfter is how long a demolded mold is still told of.
const shownAfter = 48 * time.Hour

func (m *mold) open() bool   { return m.end == 0 }
func (m *mold) begun() int64 { return m.begin.At.UnixMilli() }

// shown reports whether a mold or patch is told of.
func (m *mold) shown(now int64) bool {
	if m.isPatch() {
		return now <= m.keptUntil()
	}
	return m.open() || now-m.end <= shownAfter.Milliseconds()
}

// demoldedAt is when the marks say that a mold came off; 0 = it has not.
func demoldedAt(marks []Mark) int64 {
	for _, m := range marks {
		if m.Kind == Demolded {
			return m.At.UnixMilli()
		}
	}
	return 0
}

// boundBy is how long after its end a mold or patch is followed for the sample that bounds its last piece. A
// probe that is silent for longer than a day takes what it says next from nowhere near; an assumption.
const boundBy = 24 * time.Hour

// reach is the instant after which no sample changes what is told of a mold: so much of the record is enough
// to fold it again, however long a probe was silent then.
func (m *mold) reach() int64 {
	if m.open() {
		return math.MaxInt64
	}
	return max(m.end, m.marks[len(m.marks)-1].At.UnixMilli()) + boundBy.Milliseconds()
}

// newMold folds a mold from its marks over the readings at hand; nil when no mark is left in effect.
func (s *Shop) newMold(marks []Mark) (*mold, error) {
	if len(marks) == 0 {
		return nil, nil
	}
	if marks[0].Kind == PatchOn {
		return s.newPatch(marks)
	}
	b := marks[0]
	m := &mold{name: b.Mold, marks: marks, begin: b, stands: s.stands(marks), end: demoldedAt(marks)}
	m.legs = legsOf(m.stands)
	last := m.stands[len(m.stands)-1]
	m.air, m.surf = last.air, last.surf
	for _, mark := range marks {
		if err := s.addStep(m, mark); err != nil {
			return nil, err
		}
	}
	m.dropLastWindow()
	m.addFindings()
	m.addLooks()
	return s.foldMold(m)
}

// foldMold walks everything on a mold over the readings at hand.
func (s *Shop) foldMold(m *mold) (*mold, error) {
	for _, st := range m.steps {
		if w := m.walk(st.mark); w.lost(st.until()) {
			return nil, fmt.Errorf("mold %q: %w", m.name, ErrHistory)
		}
		s.startCureFold(m, st)
		st.advance()
	}
	for _, e := range m.exposures() {
		e.advance()
	}
	return m, nil
}

// exposures are those of all findings and looks, and of a patch until it was firm.
func (m *mold) exposures() []*exposure {
	var out []*exposure
	if m.proof != nil {
		out = append(out, m.proof)
	}
	for _, l := range m.looks {
		out = append(out, l.warmth)
	}
	for _, f := range m.findings {
		out = append(out, f.exposures()...)
	}
	return out
}

// until is the instant up to which a step is folded.
func (st *step) until() int64 {
	if st.end == 0 {
		return math.MaxInt64
	}
	return st.end
}

// addStep starts what a mark starts and ends what it ends.
func (s *Shop) addStep(m *mold, mark Mark) error {
	switch mark.Kind {
	case CoatOn, ReleaseOn:
		m.endSteps(mark, CoatDry, ReleaseDry)
		return s.startCoat(m, mark)
	case Mixed:
		m.endSteps(mark, CoatDry, ReleaseDry, WorkingLife)
		return s.startCure(m, mark, WorkingLife)
	case Poured:
		m.endSteps(mark, CoatDry, ReleaseDry, WorkingLife, DemoldTime)
		return s.startCure(m, mark, DemoldTime)
	case LayerOn:
		m.endSteps(mark, CoatDry, ReleaseDry, WorkingLife, LayerWindow, DemoldTime)
		if err := s.startCure(m, mark, LayerWindow); err != nil {
			return err
		}
		return s.startCure(m, mark, DemoldTime)
	case Demolded:
		m.endSteps(mark, CoatDry, ReleaseDry, WorkingLife, LayerWindow, DemoldTime)
	}
	return nil
}

// endSteps closes the open steps of the given kinds at the mark.
func (m *mold) endSteps(by Mark, kinds ...StepKind) {
	at := by.At.UnixMilli()
	for _, st := range m.steps {
		for _, k := range kinds {
			if st.kind == k && st.end == 0 {
				st.close(at)
				st.by = by.Kind
			}
		}
	}
}

func (st *step) close(at int64) {
	st.end = at
	if st.coat != nil {
		st.coat.until = at
	}
}

// walk is the way over the tracks that the mold feels, from a mark on.
func (m *mold) walk(from Mark) pieces {
	w := pieces{legs: m.legs, from: from.At.UnixMilli(), reach: m.reach()}
	w.start()
	return w
}

func (s *Shop) startCoat(m *mold, mark Mark) error {
	of, err := s.setup.Shelf.Find(mark.Material)
	if err != nil {
		return err
	}
	st := &step{mark: mark, kind: CoatDry, of: of, coat: newCoatFold(m.walk(mark), of, mark.FilmUM)}
	n := 1 + m.count(CoatDry)
	st.name, st.title = fmt.Sprintf("coat-%d", n), "Seal coat "+ofAll(n, m.begin.Design.Coats)
	if mark.Kind == ReleaseOn {
		n = 1 + m.count(ReleaseDry)
		st.kind, st.name, st.title = ReleaseDry, numbered("release", n), numbered("Release agent", n)
	}
	m.steps = append(m.steps, st)
	return nil
}

func (s *Shop) startCure(m *mold, mark Mark, kind StepKind) error {
	of, err := s.setup.Shelf.Find(m.rubber(mark.At.UnixMilli()))
	if err != nil {
		return err
	}
	n := 1 + m.count(kind)
	st := &step{mark: mark, kind: kind, of: of, name: numbered("cure", n), title: numbered("Cure", n)}
	if mark.Kind == LayerOn {
		st.layers = m.count(LayerWindow)
	}
	switch {
	case kind == WorkingLife:
		st.name, st.title = fmt.Sprintf("batch-%d", n), fmt.Sprintf("Batch %d in the cup", n)
	case kind == LayerWindow:
		st.layers = n
		st.name, st.title = fmt.Sprintf("layer-%d", n), "Layer "+ofAll(n, m.begin.Design.Layers)
	case st.layers > 0:
		st.title = fmt.Sprintf("Cure from layer %d", st.layers)
	}
	st.build = m.buildWith(st.layers)
	m.steps = append(m.steps, st)
	return nil
}

// startCureFold begins to fold a cure or working life, once its end is known: by then it is settled which
// findings count for it.
func (s *Shop) startCureFold(m *mold, st *step) {
	if st.coat != nil {
		return
	}
	s.startBatch(m, st)
	switch st.kind {
	case LayerWindow:
		st.cure, st.shut = s.newCureFold(m, st, st.of.LayerEarliest), s.newCureFold(m, st, st.of.LayerLatest)
	case DemoldTime:
		var event material.Event
		event, st.learned = s.learn(st.of, st.learnedFrom(), st.learnedBefore())
		st.cure = s.newCureFold(m, st, event)
	default:
		st.cure = s.newCureFold(m, st, withSecond(st.of, st.of.WorkingLife, st.of.Second.WorkingLife))
	}
}

// newCureFold begins to fold one event of a step.
func (s *Shop) newCureFold(m *mold, st *step, event material.Event) *cureFold {
	fold := newCureFold(m.walkOf(st), st.of, st.slowed(event), m.probeK(st.mark.At.UnixMilli(), st.end))
	if st.kind != WorkingLife { // a batch in the cup is no part of the mold
		fold.lag = noLagSD
		if fold.mold = newThermal(s.bodies, st.build, m.walk(m.begin), st.mark.At.UnixMilli(), fold.law); fold.mold.ok() {
			fold.lag = lagSD
			fold.mold.fromCup(newCup(st.parts), m.cupWalk(st.mixing))
		}
	}
	if m.isPatch() {
		fold.lag = patchLagSD
	}
	if st.kind == WorkingLife {
		fold.cup = newCup(st.parts)
	}
	fold.restart()
	fold.until = st.until()
	return fold
}

// numbered leaves the number out where there is only one.
func numbered(name string, n int) string {
	if n == 1 {
		return name
	}
	return fmt.Sprintf("%s-%d", name, n)
}

func (m *mold) count(k StepKind) int {
	n := 0
	for _, st := range m.steps {
		if st.kind == k {
			n++
		}
	}
	return n
}

// rubber is the material of the newest mixing up to an instant, else the one planned.
func (m *mold) rubber(until int64) string {
	name := m.begin.Material
	for _, o := range m.marks {
		if o.Kind == Mixed && o.Material != "" && o.At.UnixMilli() <= until {
			name = o.Material
		}
	}
	return name
}

// felt tells the mold that a track it may feel has a new sample. A step goes back to its beginning when
// that changes what it has walked already, unless the readings of that time are held no more. It reports
// whether a finding has become whole by it.
func (m *mold) felt(t *track, where landing) (taught bool) {
	m.partsFelt(t)
	if !feels(m.legs, t) {
		return false
	}
	for _, st := range m.steps {
		if (where == amid || st.behind(t)) && !st.walk().lost(st.until()) {
			st.restart()
			m.told = nil
		}
		st.advance()
	}
	for _, e := range m.exposures() {
		was := e.complete()
		if (where == amid || e.walk.behind(t)) && !e.walk.lost(e.until) {
			e.restart()
			was, m.told = false, nil
		}
		e.advance()
		taught = taught || !was && e.complete()
	}
	return taught
}

func (st *step) walk() *pieces {
	if st.coat != nil {
		return &st.coat.walk
	}
	return &st.cure.walk
}

// behind reports whether the newest sample of a track changes what the step has walked already.
func (st *step) behind(t *track) bool {
	if st.cure != nil && st.cure.mold != nil && st.cure.mold.behind(t) {
		return true
	}
	return st.walk().behind(t)
}

func (st *step) restart() {
	if st.coat != nil {
		st.coat.restart()
		return
	}
	st.cure.restart()
	if st.shut != nil {
		st.shut.restart()
	}
}

func (st *step) advance() {
	if st.coat != nil {
		st.coat.advance()
		return
	}
	st.cure.advance()
	if st.shut != nil {
		st.shut.advance()
	}
}

// lastCheck returns the newest check of the given things at or after an instant.
func (m *mold) lastCheck(from int64, of ...Subject) (Mark, bool) {
	for i := len(m.marks) - 1; i >= 0; i-- {
		c := m.marks[i]
		if c.Kind != Checked || c.At.UnixMilli() < from {
			continue
		}
		for _, o := range of {
			if c.Of == o {
				return c, true
			}
		}
	}
	return Mark{}, false
}
