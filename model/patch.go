package model

import (
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
)

// A test patch is folded as a mold that is all pour: it is set, it cures over the readings at its place, and
// its cup is its control. It stands among the shop's molds, so that late marks, corrections, what a cup
// teaches and what must be kept of the record go the same way for both.

// patchLife is how long a patch that nobody has read is waited for; an assumption: what is not firm by then
// has been thrown away.
const patchLife = 10 * 24 * time.Hour

// patchLagSD is what is not known of a patch's own temperature, as a standard deviation of ln(time). A patch
// is thin and goes with what it lies on, which may lag behind the air by an unknown time. Assumption: a
// little more than for a mold whose build is not told.
const patchLagSD = 0.11

func (m *mold) isPatch() bool { return m.begin.Kind == PatchOn }

// newPatch folds a patch from its marks over the readings at hand.
func (s *Shop) newPatch(marks []Mark) (*mold, error) {
	b := marks[0]
	of, err := s.setup.Shelf.Find(b.Material)
	if err != nil {
		return nil, err
	}
	m := &mold{name: b.Mold, marks: marks, begin: b, stands: s.stands(marks), end: patchEnd(marks)}
	m.legs, m.air = legsOf(m.stands), m.stands[0].air
	m.steps = []*step{{mark: b, kind: DemoldTime, name: "patch", title: "Patch", of: of, end: m.end}}
	m.addFindings()
	m.addLooks()
	if at := firmFrom(marks); at != 0 {
		m.proof = newExposure(m.walk(b), at)
	}
	return s.foldMold(m)
}

// patchEnd is when nothing more is to come of a patch: at the newest touch once it was found cured, well or
// not, else when it is given up.
func patchEnd(marks []Mark) int64 {
	read, last := false, int64(0)
	for _, c := range marks[1:] {
		read = read || c.Of == Patch && !c.Found.Soft()
		last = max(last, c.At.UnixMilli())
	}
	if read {
		return last
	}
	return max(last, marks[0].At.Add(patchLife).UnixMilli())
}

// firmFrom is when a patch was first found firm and not soft after it; 0 = not yet.
func firmFrom(marks []Mark) int64 {
	at := int64(0)
	for _, c := range marks[1:] {
		switch {
		case c.Of != Patch:
		case c.Found.Soft():
			at = 0
		case c.Found == Firm && at == 0:
			at = c.At.UnixMilli()
		}
	}
	return at
}

// touched reports whether a patch was touched at all, and whether it was ever found other than firm.
func (m *mold) touched() (any, bad bool) {
	for _, c := range m.marks[1:] {
		if c.Of == Patch {
			any, bad = true, bad || c.Found != Firm
		}
	}
	return any, bad
}

// keptUntil is until when a patch is told of: one that was ever found other than firm for good, since no
// time mends what poisons; one that was firm, or whose cup was, as long as it teaches; any other like a mold.
func (m *mold) keptUntil() int64 {
	switch any, bad := m.touched(); {
	case bad:
		return math.MaxInt64
	case any || len(m.findings) > 0:
		return m.end + learnFor.Milliseconds()
	}
	return m.end + shownAfter.Milliseconds()
}

// PlainFace is a face as faces are compared: in lower case, with one space between its words and no hyphen
// or other punctuation.
func PlainFace(face string) string {
	words := strings.FieldsFunc(strings.ToLower(face), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return strings.Join(words, " ")
}

// run is one material of a prep, with the number of coats of it that follow one another.
type run struct {
	material string
	coats    int
}

func runsOf(prep []string) []run {
	var out []run
	for _, name := range prep {
		if n := len(out); n > 0 && out[n-1].material == name {
			out[n-1].coats++
			continue
		}
		out = append(out, run{name, 1})
	}
	return out
}

// atLeast reports whether a prep is another one or the same with more coats: the same materials in the same
// order, and of none fewer coats. What passed under one coat vouches for two of the same, not the other way
// round, and never for another material.
func atLeast(prep, than []string) bool {
	return slices.EqualFunc(runsOf(prep), runsOf(than), func(a, b run) bool { return a.material == b.material && a.coats >= b.coats })
}

// prep is what lies on the face of a mold up to an instant and before its first pour, in order.
func (m *mold) prep(until int64) []string {
	if m.isPatch() {
		return m.begin.Prep
	}
	var out []string
	for _, c := range m.marks {
		switch {
		case c.Kind == Poured || c.Kind == LayerOn || c.At.UnixMilli() > until:
			return out
		case c.Kind == CoatOn || c.Kind == ReleaseOn:
			out = append(out, c.Material)
		}
	}
	return out
}

// lot is the lot of the rubber on a mold up to an instant, as told when it was mixed; empty = not told.
func (m *mold) lot(until int64) string {
	lot := m.begin.Batch.Lot // of a patch
	for _, c := range m.marks {
		if c.Kind == Mixed && c.Batch.Lot != "" && c.At.UnixMilli() <= until {
			lot = c.Batch.Lot
		}
	}
	return lot
}
