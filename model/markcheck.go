package model

import (
	"fmt"
	"slices"

	"pourward/model/material"
)

// mostFilmUM is the thickest film of a coat, µm; beyond it a number is a slip of the pen.
const mostFilmUM = 10_000.0

// checkMark judges a mark by itself and against the one it corrects.
func (s *Shop) checkMark(m Mark) error {
	switch {
	case m.Mold == "":
		return fmt.Errorf("the mark names no mold: say which one")
	case m.At.IsZero():
		return fmt.Errorf("the mark has no time: say when it happened")
	case len(m.Prep) > 0 && m.Kind != PatchOn:
		return fmt.Errorf("%q carries no prep: mark each coat and the release on a mold by itself", m.Kind)
	case m.Face != "" && m.Kind != Begun && m.Kind != PatchOn:
		return fmt.Errorf("%q says nothing of the face: correct the mark by which it was begun", m.Kind)
	case m.Design != Design{} && m.Kind != Begun:
		return fmt.Errorf("how a mold is made belongs to the mark by which it was begun: correct that one")
	case m.FilmUM != 0 && m.Kind != CoatOn && m.Kind != ReleaseOn:
		return fmt.Errorf("%q makes no film: its thickness belongs to a coat or the release agent", m.Kind)
	case !(m.FilmUM >= 0 && m.FilmUM <= mostFilmUM):
		return fmt.Errorf("a film cannot be %g µm thick: give 0 to %g µm", m.FilmUM, mostFilmUM)
	case m.Batch.Told() && m.Kind != Mixed && m.Kind != PatchOn:
		return fmt.Errorf("weights belong to a mixing: %q has none", m.Kind)
	case m.Kind == Withdrawn && m.Corrects == 0:
		return fmt.Errorf("a withdrawal must say which mark never happened: give that mark's number")
	}
	if m.Corrects != 0 {
		if err := s.checkCorrects(m); err != nil {
			return err
		}
	}
	return s.checkContent(m)
}

func (s *Shop) checkCorrects(m Mark) error {
	old, ok := s.marks[m.Corrects]
	if !ok {
		return fmt.Errorf("there is no mark %d to correct: look up the number in the mold's list of marks", m.Corrects)
	}
	if old.Mold != m.Mold {
		return fmt.Errorf("mark %d belongs to mold %q, not to %q: correct it there", old.ID, old.Mold, m.Mold)
	}
	for _, o := range s.marks {
		if o.Corrects == old.ID && o.ID != m.ID {
			return fmt.Errorf("mark %d was corrected already by mark %d: correct that one", old.ID, o.ID)
		}
	}
	return nil
}

// checkContent judges what the kind of mark needs to say.
func (s *Shop) checkContent(m Mark) error {
	switch m.Kind {
	case Begun:
		return s.checkBegun(m)
	case CoatOn:
		return s.checkMaterial(m, "seal coat", material.Sealer)
	case ReleaseOn:
		return s.checkMaterial(m, "release agent", material.Release)
	case Mixed:
		if m.Material != "" {
			if err := s.checkMaterial(m, "material to mix", material.Rubber, material.Resin, material.Plaster); err != nil {
				return err
			}
		}
		return s.checkBatch(m.Batch)
	case PatchOn:
		return s.checkPatchOn(m)
	case Moved:
		return s.checkMoved(m)
	case Checked:
		return checkFinding(m)
	case Poured, LayerOn, Demolded, Withdrawn:
		return nil
	}
	_, err := ParseMarkKind(string(m.Kind))
	return err
}

func (s *Shop) checkBegun(m Mark) error {
	if _, ok := s.places[m.Place]; !ok {
		return fmt.Errorf("there is no place %q for the mold to stand: choose one of %v", m.Place, s.setup.Places)
	}
	if m.Surface != "" {
		if _, ok := s.places[m.Surface]; !ok {
			return fmt.Errorf("there is no place %q with a probe on the pattern: choose one of %v, or none", m.Surface, s.setup.Places)
		}
	}
	if err := m.Build.check(); err != nil {
		return err
	}
	if err := m.Design.check(); err != nil {
		return err
	}
	if m.Material == "" {
		return nil
	}
	return s.checkMaterial(m, "rubber", material.Rubber, material.Resin, material.Plaster)
}

func (s *Shop) checkMaterial(m Mark, what string, kinds ...material.Kind) error {
	names := make([]string, 0, 8)
	for _, o := range s.setup.Shelf.OfKind(kinds...) {
		names = append(names, o.Name)
	}
	if m.Material == "" {
		return fmt.Errorf("%q needs the %s that was used: one of %v", m.Kind, what, names)
	}
	if !slices.Contains(names, m.Material) {
		return fmt.Errorf("%q is not a %s on the shelf: there are %v", m.Material, what, names)
	}
	return nil
}

// checkPatchOn judges a patch: what it is of, on what, and where.
func (s *Shop) checkPatchOn(m Mark) error {
	if err := s.checkMaterial(m, "rubber", material.Rubber, material.Resin, material.Plaster); err != nil {
		return err
	}
	if _, ok := s.places[m.Place]; !ok {
		return fmt.Errorf("there is no place %q for the patch to lie: choose one of %v", m.Place, s.setup.Places)
	}
	if m.Face == "" {
		return fmt.Errorf("a patch tells of one face only: say what it lies on, such as oil clay")
	}
	for _, name := range m.Prep {
		if of, err := s.setup.Shelf.Find(name); err != nil || of.Cures() {
			return fmt.Errorf("%q is no sealer or release agent on the shelf, so it cannot be the prep of a patch", name)
		}
	}
	return s.checkBatch(m.Batch)
}

func (s *Shop) checkMoved(m Mark) error {
	for _, at := range []string{m.Place, m.Surface} {
		if _, ok := s.places[at]; !ok && (at != "" || m.Place == "") {
			return fmt.Errorf("there is no place %q to move to: choose one of %v", at, s.setup.Places)
		}
	}
	return nil
}

// checkBatch judges weights by themselves, and where the parts came from.
func (s *Shop) checkBatch(b Batch) error {
	if err := b.check(); err != nil {
		return err
	}
	for _, from := range b.places() {
		if _, ok := s.places[from]; !ok {
			return fmt.Errorf("there is no place %q for the parts to have stood: choose one of %v, or none", from, s.setup.Places)
		}
	}
	return nil
}

func checkFinding(m Mark) error {
	if !slices.Contains([]Subject{Cup, Patch, Mold, Coat}, m.Of) {
		return fmt.Errorf("a check must say what was touched: cup, patch, mold or coat, not %q", m.Of)
	}
	if !slices.Contains(Findings(), m.Found) {
		return fmt.Errorf("a check must say what was found: firm, tacky, liquid or surface spoiled, not %q", m.Found)
	}
	if m.Of == Cup && m.Found == Spoiled {
		return fmt.Errorf("a cup has no face that could be spoiled: say firm, tacky or liquid")
	}
	return nil
}

// checkOrder judges whether the marks of one mold make sense in the order of their times.
func (s *Shop) checkOrder(name string, marks []Mark) error {
	if len(marks) == 0 {
		return nil
	}
	if slices.ContainsFunc(marks, func(m Mark) bool { return m.Kind == PatchOn }) {
		return checkPatchOrder(name, marks)
	}
	if marks[0].Kind != Begun {
		if !slices.ContainsFunc(marks, func(m Mark) bool { return m.Kind == Begun }) {
			return fmt.Errorf("mold %q has not been begun: mark it begun first, with the place where it stands", name)
		}
		return fmt.Errorf("%q lies before mold %q was begun: correct the time of one of them", marks[0].Kind, name)
	}
	var w work
	for _, m := range marks {
		if err := w.take(m); err != nil {
			return fmt.Errorf("mold %q: %w", name, err)
		}
	}
	return nil
}

// checkPatchOrder judges the marks of a patch: it is set once, then touched.
func checkPatchOrder(name string, marks []Mark) error {
	for i, m := range marks {
		switch {
		case m.Kind == Begun:
			return fmt.Errorf("%q names a mold and a patch: choose another name for one of them", name)
		case m.Kind == PatchOn && i > 0:
			return fmt.Errorf("patch %q: it is on already, or the time lies after another mark of it: correct that one, or choose another name", name)
		case m.Kind == Checked && i == 0:
			return fmt.Errorf("patch %q: checked lies before it was set: correct the time of one of them", name)
		case m.Kind == Checked && m.Of != Patch && m.Of != Cup:
			return fmt.Errorf("patch %q: of a patch only the patch and its cup can be touched, not the %s", name, m.Of)
		case m.Kind != PatchOn && m.Kind != Checked:
			return fmt.Errorf("patch %q: %q is nothing that can be done to a patch: mark it on a mold", name, m.Kind)
		}
	}
	return nil
}

// work is how far a mold has come, to judge what may follow.
type work struct {
	begun, mixed, poured, demolded bool
	layered                        bool // what is on was brushed on in layers
	rubber                         string
	design                         Design
}

func (w *work) take(m Mark) error {
	if w.demolded && m.Kind != Checked {
		return fmt.Errorf("%q lies after it was demolded: correct the time, or begin another mold", m.Kind)
	}
	switch m.Kind {
	case Begun:
		if w.begun {
			return fmt.Errorf("it has been begun already: correct that mark, or choose another name")
		}
		w.begun, w.rubber, w.design = true, m.Material, m.Design
	case CoatOn, ReleaseOn:
		if w.mixed || w.poured {
			return fmt.Errorf("%q lies after mixing: correct the time of one of them", m.Kind)
		}
	case Mixed:
		if m.Material == "" && w.rubber == "" {
			return fmt.Errorf("mixed needs the material, since none was planned when the mold was begun")
		}
		w.mixed = true
	case Poured, LayerOn:
		return w.takeRubber(m)
	case Demolded:
		if !w.poured {
			return fmt.Errorf("demolded lies before anything was poured: enter or correct the pouring first")
		}
		w.demolded = true
	}
	return nil
}

// takeRubber judges a pour or a layer: a mold is made one way or the other.
func (w *work) takeRubber(m Mark) error {
	layer := m.Kind == LayerOn
	switch {
	case layer && w.design.Method == Block:
		return fmt.Errorf("a block mold is poured in one go and takes no layer: mark it poured, or correct how it is made where it was begun")
	case !layer && w.design.Method.Layered():
		return fmt.Errorf("it is to be made as %q, not poured in one go: mark each layer on, or correct how it is made where it was begun", w.design.Method)
	case w.poured && layer && !w.layered:
		return fmt.Errorf("a layer lies after it was poured in one go: correct one of the two marks")
	case w.poured && !layer && w.layered:
		return fmt.Errorf("poured lies after a layer was brushed on: mark it layer on, or correct the earlier one")
	case !w.mixed:
		return fmt.Errorf("%q lies before anything was mixed for it: enter or correct the mixing first", m.Kind)
	}
	w.poured, w.mixed, w.layered = true, false, layer
	return nil
}
