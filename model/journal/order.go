package journal

import (
	"cmp"
	"slices"

	"pourward/sensors"
)

// inOrder merges the series of all probes by instant and name.
func (v *view) inOrder(series [][]sample, yield func(sensors.Reading) error) error {
	m := v.merger(series)
	for len(m) > 0 {
		s := &m[0]
		if err := yield(s.rest[0].reading(s.name)); err != nil {
			return err
		}
		if s.rest = s.rest[1:]; len(s.rest) == 0 {
			m[0] = m[len(m)-1]
			m = m[:len(m)-1]
		}
		m.sink(0)
	}
	return nil
}

// merger is a binary heap of series: the one whose next sample comes first is at the top.
type merger []named

// named is what is left of a series; never empty.
type named struct {
	rest []sample
	name string
	rank int // of the name among all names
}

func (v *view) merger(series [][]sample) merger {
	var m merger
	for id, of := range series {
		if len(of) > 0 {
			m = append(m, named{rest: of, name: v.name(uint16(id))})
		}
	}
	slices.SortStableFunc(m, func(a, b named) int { return cmp.Compare(a.name, b.name) })
	for i := range m {
		m[i].rank = i
	}
	for i := len(m)/2 - 1; i >= 0; i-- {
		m.sink(i)
	}
	return m
}

func (m merger) less(i, k int) bool {
	a, b := &m[i], &m[k]
	if a.rest[0].at != b.rest[0].at {
		return a.rest[0].at < b.rest[0].at
	}
	return a.rank < b.rank
}

// sink restores the heap after m[i] has moved on.
func (m merger) sink(i int) {
	for {
		first := i
		for k := 2*i + 1; k <= 2*i+2 && k < len(m); k++ {
			if m.less(k, first) {
				first = k
			}
		}
		if first == i {
			return
		}
		m[i], m[first] = m[first], m[i]
		i = first
	}
}
