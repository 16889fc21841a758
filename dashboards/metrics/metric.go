package metrics

import (
	"slices"

	"github.com/prometheus/client_golang/prometheus"
)

// Form is what kind of values a metric has. Each has its own way of being named.
type Form string

const (
	Quantity Form = "quantity" // a gauge with a unit, which ends its name
	Instant  Form = "instant"  // Unix seconds; the name ends in _timestamp_seconds
	Amount   Form = "amount"   // a gauge that counts things, named by what it counts
	Flag     Form = "flag"     // 0 or 1
	StateSet Form = "states"   // one series a state, the one that holds is 1; a label named as the metric tells the state
	Facts    Form = "facts"    // always 1; the labels are what it tells; the name ends in _info
	Count    Form = "count"    // a counter since the daemon's start; the name ends in _total
)

// Metric describes one metric. [Table] lists them all.
type Metric struct {
	Name   string
	Form   Form
	Unit   string // celsius, ratio, seconds, or empty
	Labels []string
	Help   string // for the maker
}

// Type is the metric's type in the sense of Prometheus.
func (m Metric) Type() string {
	if m.Form == Count {
		return "counter"
	}
	return "gauge"
}

func (m Metric) valueType() prometheus.ValueType {
	if m.Form == Count {
		return prometheus.CounterValue
	}
	return prometheus.GaugeValue
}

// Table lists every metric the collector may export, by subject.
func Table() []Metric {
	return slices.Concat(shopTable(), placesTable(), probesTable(), moldsTable(), stepsTable(), patchesTable(), journalTable(), deliveryTable())
}

func quantity(name, unit, help string, labels ...string) Metric {
	return Metric{Name: name, Form: Quantity, Unit: unit, Labels: labels, Help: help}
}

func moment(name, help string, labels ...string) Metric {
	return Metric{Name: name, Form: Instant, Unit: seconds, Labels: labels, Help: help}
}

// states describes a metric with one series a state; the label that tells the state comes last.
func states(name, help string, labels ...string) Metric {
	return Metric{Name: name, Form: StateSet, Labels: append(labels, name), Help: help}
}

func plain(name string, form Form, help string, labels ...string) Metric {
	return Metric{Name: name, Form: form, Labels: labels, Help: help}
}

// Units.
const (
	celsius = "celsius"
	ratio   = "ratio"
	seconds = "seconds"
)
