package metrics

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"pourward/model"
)

// collector reads the newest snapshot at every scrape.
type collector struct {
	snapshot func() *model.Snapshot
	now      func() time.Time
	known    map[string]described
}

type described struct {
	Metric
	desc *prometheus.Desc
}

// NewCollector returns a collector over what snapshot gives, which is nil before the first outlook; now
// is the shop clock. Both are called once a scrape, by any goroutine.
func NewCollector(snapshot func() *model.Snapshot, now func() time.Time) prometheus.Collector {
	c := &collector{snapshot: snapshot, now: now, known: map[string]described{}}
	for _, m := range Table() {
		labels := prometheus.UnconstrainedLabels(m.Labels)
		c.known[m.Name] = described{m, prometheus.V2.NewDesc(m.Name, m.Help, labels, nil, prometheus.WithUnit(m.Unit))}
	}
	return c
}

// Describe sends every metric the collector may ever export.
func (c *collector) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range c.known {
		ch <- d.desc
	}
}

// Collect exports the newest snapshot; nothing when there is none.
func (c *collector) Collect(ch chan<- prometheus.Metric) {
	s := c.snapshot()
	if s == nil || s.Outlook == nil {
		return
	}
	to := sink{ch: ch, known: c.known}
	collectShop(to, s, c.now())
	collectPlaces(to, s.Outlook)
	collectProbes(to, s)
	collectMolds(to, s.Outlook)
	collectPatches(to, s.Outlook)
	collectJournal(to, s.Health.Journal)
	collectDelivery(to, s.Health.Delivery, s.Outlook.At)
}
