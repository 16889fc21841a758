package metrics

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	dto "github.com/prometheus/client_model/go"

	"pourward/model"
)

// Families is what a snapshot tells, sorted as an exposition is, and what of it could not be told. All of it follows
// from the snapshot; the shop clock does not, and is left out. There is nothing of nil or before the first outlook.
//
// The series are not made by client_golang, which checks, hashes and sorts every one on every scrape: of 200 molds
// that took twice as long as to write them out. What its registry refuses is refused here, too; tests hold the two
// against each other.
func Families(s *model.Snapshot) ([]*dto.MetricFamily, error) {
	if s == nil || s.Outlook == nil {
		return nil, nil
	}
	to := &sink{known: map[string]*family{}}
	for _, m := range Table() {
		to.known[m.Name] = newFamily(m)
	}
	collectShop(to, s)
	collectPlaces(to, s.Outlook)
	collectProbes(to, s)
	collectMolds(to, s.Outlook)
	collectPatches(to, s.Outlook)
	collectJournal(to, s.Health.Journal)
	collectDelivery(to, s.Health.Delivery, s.Outlook.At)
	return to.all()
}

// family is a metric and the series it has so far.
type family struct {
	Metric
	order []int            // of the labels by their names, as an exposition has them
	last  []*dto.LabelPair // of the last series, so ordered
	told  *dto.MetricFamily
}

func newFamily(m Metric) *family {
	f := &family{Metric: m, told: &dto.MetricFamily{Name: &m.Name, Help: &m.Help, Type: m.dtoType().Enum()}}
	if m.Unit != "" {
		f.told.Unit = &m.Unit
	}
	for i := range m.Labels {
		f.order = append(f.order, i)
	}
	slices.SortFunc(f.order, func(a, b int) int { return strings.Compare(m.Labels[a], m.Labels[b]) })
	return f
}

// add adds a series. It keeps labels, which has one value for each label of the metric in the order of the table.
func (f *family) add(value float64, labels []string) error {
	if len(labels) != len(f.Labels) {
		return fmt.Errorf("export %s: %d values for %d labels", f.Name, len(labels), len(f.Labels))
	}
	pairs := make([]*dto.LabelPair, len(labels))
	for to, from := range f.order {
		pairs[to] = f.pair(to, from, &labels[from])
	}
	f.last = pairs
	f.told.Metric = append(f.told.Metric, f.series(value, pairs))
	return nil
}

// pair is a label. Most are those of the series before: of a state set all but one, and there are many of these.
func (f *family) pair(to, from int, value *string) *dto.LabelPair {
	if f.last != nil && *f.last[to].Value == *value {
		return f.last[to]
	}
	return &dto.LabelPair{Name: &f.Labels[from], Value: value}
}

// series is one series in one piece of memory.
func (f *family) series(value float64, labels []*dto.LabelPair) *dto.Metric {
	if f.Form == Count {
		return &dto.Metric{Label: labels, Counter: &dto.Counter{Value: &value}}
	}
	s := &struct {
		metric dto.Metric
		gauge  dto.Gauge
		value  float64
	}{value: value}
	s.gauge.Value = &s.value
	s.metric.Label, s.metric.Gauge = labels, &s.gauge
	return &s.metric
}

// sorted sorts the series and leaves out those that are there twice.
func (f *family) sorted() error {
	var err error
	slices.SortFunc(f.told.Metric, byLabels)
	f.told.Metric = slices.CompactFunc(f.told.Metric, func(a, b *dto.Metric) bool {
		if byLabels(a, b) != 0 {
			return false
		}
		err = errors.Join(err, fmt.Errorf("export %s: %v has the labels of another series and is left out", f.Name, b.GetLabel()))
		return true
	})
	return err
}

func byLabels(a, b *dto.Metric) int {
	for i := range a.Label {
		if c := strings.Compare(*a.Label[i].Value, *b.Label[i].Value); c != 0 {
			return c
		}
	}
	return 0
}
