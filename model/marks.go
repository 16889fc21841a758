package model

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"pourward/sensors"
)

// Accept reports whether a mark could be folded now; the error says in a sentence what does not fit and
// how to put it right. It changes nothing.
func (s *Shop) Accept(m Mark) error {
	if err := checkText(reflect.ValueOf(m), ""); err != nil {
		return err
	}
	_, err := s.withMark(m)
	return err
}

// checkText refuses text that is not UTF-8, wherever in a mark it stands. What is on record is not asked.
func checkText(v reflect.Value, name string) error {
	switch v.Kind() {
	case reflect.String:
		if err := sensors.CheckText(v.String()); err != nil {
			return fmt.Errorf("%s: %w", strings.ToLower(name), err)
		}
	case reflect.Slice:
		for i := range v.Len() {
			if err := checkText(v.Index(i), name); err != nil {
				return err
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if err := checkText(v.Field(i), v.Type().Field(i).Name); err != nil {
				return err
			}
		}
	}
	return nil
}

// Mark folds a recorded mark: late ones and corrections as well. The error is that of [Shop.Accept], or
// [ErrHistory]; nothing has changed then.
func (s *Shop) Mark(m Mark) error {
	m = m.Rounded()
	marks, err := s.withMark(m)
	if err != nil {
		return err
	}
	next, err := s.newMold(marks)
	if err != nil {
		return err
	}
	s.marks[m.ID], s.feeling = m, nil
	taught := s.taught(m.Mold)
	if next == nil {
		delete(s.molds, m.Mold)
	} else {
		s.molds[m.Mold] = next
	}
	taught = append(taught, s.taught(m.Mold)...)
	slices.Sort(taught)
	for _, name := range slices.Compact(taught) {
		if err := s.relearn(name); err != nil {
			return err
		}
	}
	return nil
}

// taught lists the materials that a mold has taught something about.
func (s *Shop) taught(name string) []string {
	var out []string
	if m := s.molds[name]; m != nil {
		for _, f := range m.findings {
			out = append(out, f.material)
		}
	}
	return out
}

// withMark returns the marks of m's mold that would be in effect with m, in order, once they have been
// found to make sense together.
func (s *Shop) withMark(m Mark) ([]Mark, error) {
	if err := s.checkMark(m); err != nil {
		return nil, err
	}
	all := []Mark{m}
	for _, o := range s.marks {
		if o.Mold == m.Mold && o.ID != m.ID {
			all = append(all, o)
		}
	}
	marks := inEffect(all)
	if err := s.checkOrder(m.Mold, marks); err != nil {
		return nil, err
	}
	return marks, s.checkWeighed(m, marks)
}

// inEffect leaves out what was corrected or withdrawn and puts the rest in order of time.
func inEffect(all []Mark) []Mark {
	gone := map[int64]bool{}
	for _, m := range all {
		if m.Corrects != 0 {
			gone[m.Corrects] = true
		}
	}
	var out []Mark
	for _, m := range all {
		if !gone[m.ID] && m.Kind != Withdrawn {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b Mark) int {
		if c := a.At.Compare(b.At); c != 0 {
			return c
		}
		return int(order(a) - order(b))
	})
	return out
}

// order puts a new mark, which has no ID yet, after all others of its instant.
func order(m Mark) int64 {
	if m.ID == 0 {
		return math.MaxInt32
	}
	return m.ID
}
