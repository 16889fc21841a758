package metrics

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// sink takes the values of one scrape.
type sink struct {
	ch    chan<- prometheus.Metric
	known map[string]described
}

// put exports a value. What does not fit its description fails the scrape of that metric, not the daemon.
func (s sink) put(name string, value float64, labels ...string) {
	d, ok := s.known[name]
	if !ok {
		err := fmt.Errorf("metric %s is not in the table", name)
		s.ch <- prometheus.NewInvalidMetric(prometheus.NewInvalidDesc(err), err)
		return
	}
	for i, l := range labels {
		labels[i] = strings.ToValidUTF8(l, "�")
	}
	m, err := prometheus.NewConstMetric(d.desc, d.valueType(), value, labels...)
	if err != nil {
		m = prometheus.NewInvalidMetric(d.desc, fmt.Errorf("export %s: %w", name, err))
	}
	s.ch <- m
}

// quantity exports a value that is known; a NaN or an infinity is not.
func (s sink) quantity(name string, value float64, labels ...string) {
	if !math.IsNaN(value) && !math.IsInf(value, 0) {
		s.put(name, value, labels...)
	}
}

// instant exports an instant that is known.
func (s sink) instant(name string, t time.Time, labels ...string) {
	if !t.IsZero() {
		s.put(name, unixSeconds(t), labels...)
	}
}

func (s sink) flag(name string, yes bool, labels ...string) {
	value := 0.0
	if yes {
		value = 1
	}
	s.put(name, value, labels...)
}

// putStates exports one series for each state of all, of which the one that is holds.
func putStates[T ~string](s sink, name string, all []T, is T, labels ...string) {
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
