package metrics

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	dto "github.com/prometheus/client_model/go"
)

// sink takes the values of one snapshot.
type sink struct {
	known   map[string]*family
	trouble error
}

// put exports a value. What does not fit its description is not told, and is no reason to tell nothing else.
func (s *sink) put(name string, value float64, labels ...string) {
	f, ok := s.known[name]
	if !ok {
		s.trouble = errors.Join(s.trouble, fmt.Errorf("metric %s is not in the table", name))
		return
	}
	for i, l := range labels {
		labels[i] = strings.ToValidUTF8(l, "�")
	}
	s.trouble = errors.Join(s.trouble, f.add(value, labels))
}

// quantity exports a value that is known; a NaN or an infinity is not.
func (s *sink) quantity(name string, value float64, labels ...string) {
	if !math.IsNaN(value) && !math.IsInf(value, 0) {
		s.put(name, value, labels...)
	}
}

// instant exports an instant that is known.
func (s *sink) instant(name string, t time.Time, labels ...string) {
	if !t.IsZero() {
		s.put(name, unixSeconds(t), labels...)
	}
}

func (s *sink) flag(name string, yes bool, labels ...string) {
	value := 0.0
	if yes {
		value = 1
	}
	s.put(name, value, labels...)
}

// all is what was put, by the names of metrics.
func (s *sink) all() ([]*dto.MetricFamily, error) {
	var out []*dto.MetricFamily
	for _, name := range slices.Sorted(maps.Keys(s.known)) {
		if f := s.known[name]; len(f.told.Metric) > 0 {
			s.trouble = errors.Join(s.trouble, f.sorted())
			out = append(out, f.told)
		}
	}
	return out, s.trouble
}

// putStates exports one series for each state of all, of which the one that is holds.
func putStates[T ~string](s *sink, name string, all []T, is T, labels ...string) {
	for _, state := range all {
		s.flag(name, state == is, append(labels[:len(labels):len(labels)], string(state))...)
	}
}

// unixSeconds is 0 for the zero time, which stands for never.
func unixSeconds(t time.Time) float64 {
	if t.IsZero() {
		return 0
	}
	return float64(t.UnixMilli()) / 1000
}
