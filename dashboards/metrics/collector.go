package metrics

import (
	"fmt"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"

	"pourward/model"
)

// collector tells one snapshot.
type collector struct {
	snapshot *model.Snapshot // with an outlook
	known    map[string]described
}

type described struct {
	Metric
	desc *prometheus.Desc
}

func describe(m Metric) described {
	labels := prometheus.UnconstrainedLabels(m.Labels)
	return described{m, prometheus.V2.NewDesc(m.Name, m.Help, labels, nil, prometheus.WithUnit(m.Unit))}
}

// Gather returns what a snapshot tells, sorted as an exposition is, and what of it could not be told. All of it follows
// from the snapshot; the shop clock does not, and is left out. There is nothing of nil or before the first outlook.
func Gather(s *model.Snapshot) ([]*dto.MetricFamily, error) {
	if s == nil || s.Outlook == nil {
		return nil, nil
	}
	c := &collector{snapshot: s, known: map[string]described{}}
	for _, m := range Table() {
		c.known[m.Name] = describe(m)
	}
	delete(c.known, ShopClock)
	reg := prometheus.NewRegistry()
	if err := reg.Register(c); err != nil {
		return nil, fmt.Errorf("registering metrics: %w", err)
	}
	return reg.Gather()
}

// Describe sends every metric the collector may ever export.
func (c *collector) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range c.known {
		ch <- d.desc
	}
}

// Collect exports the snapshot.
func (c *collector) Collect(ch chan<- prometheus.Metric) {
	to, s := sink{ch: ch, known: c.known}, c.snapshot
	collectShop(to, s)
	collectPlaces(to, s.Outlook)
	collectProbes(to, s)
	collectMolds(to, s.Outlook)
	collectPatches(to, s.Outlook)
	collectJournal(to, s.Health.Journal)
	collectDelivery(to, s.Health.Delivery, s.Outlook.At)
}

// clock tells the one thing that does not follow from a snapshot, and with it what of the snapshot could not be told.
type clock struct {
	snapshot func() *model.Snapshot
	now      func() time.Time
	trouble  func() error
	told     described
}

// Describe sends what the shop clock is.
func (c *clock) Describe(ch chan<- *prometheus.Desc) { ch <- c.told.desc }

// Collect exports the shop clock, once there is an outlook.
func (c *clock) Collect(ch chan<- prometheus.Metric) {
	if s := c.snapshot(); s == nil || s.Outlook == nil {
		return
	}
	sink{ch: ch, known: map[string]described{ShopClock: c.told}}.instant(ShopClock, c.now())
	if err := c.trouble(); err != nil {
		ch <- prometheus.NewInvalidMetric(c.told.desc, err)
	}
}
