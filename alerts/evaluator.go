package alerts

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"text/template"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Alert is an alert that fires, in words for the page and the log.
type Alert struct {
	Name        string
	Severity    Severity
	Labels      map[string]string // mold, step, kind, place or probe; not to be changed
	Summary     string
	Description string
	WhatToDo    string
	Since       time.Time // when its condition began to hold, by the shop clock
	Passing     bool      // that it ends is no news, see [Definition.Passing]
}

// Key tells alerts of one name apart.
func (a Alert) Key() string { return Instance{Labels: a.Labels}.key() }

// Change is an alert that began to fire, or ended.
type Change struct {
	Alert Alert
	Ended bool
	At    time.Time // instant of the outlook that showed it
}

// Evaluator follows the conditions of the table from one snapshot to the next, in the way Prometheus
// follows the rules: an alert fires when its condition has held for [Definition.For], and ends when it
// has been gone for [Definition.KeepFiring]. Its only clock is the instant of the outlook; where the time of day was
// set, the snapshot tells by how much. It is for one goroutine.
type Evaluator struct {
	rules  []*rule
	shifts int // of the shop clock's labels, that were followed
}

// NewEvaluator follows the alerts of table that the daemon can see; zone is that of the times in the
// descriptions. It fails when a description is no valid template, which the alerts of [Table] are.
func NewEvaluator(table []Definition, zone *time.Location) (*Evaluator, error) {
	e := &Evaluator{}
	for _, d := range table {
		if d.RuleOnly() {
			continue
		}
		if d.Recall != nil {
			d.Condition = d.Recall()
		}
		text, err := describer(d, zone)
		if err != nil {
			return nil, err
		}
		e.rules = append(e.rules, &rule{Definition: d, text: text, tracked: map[string]*tracked{}})
	}
	return e, nil
}

// Step takes the next snapshot and returns what began to fire or ended by it, in the order of the table.
// A snapshot without an outlook changes nothing: not knowing is no reason to end an alert.
func (e *Evaluator) Step(s *model.Snapshot) []Change {
	if s == nil || s.Outlook == nil {
		return nil
	}
	for _, shift := range s.Health.Shifts[e.shifts:] {
		for _, r := range e.rules {
			r.move(shift)
		}
	}
	e.shifts = len(s.Health.Shifts)
	var out []Change
	for _, r := range e.rules {
		out = append(out, r.step(s)...)
	}
	return out
}

// Resume lets alerts of a former run go on firing, before the first Step. Each keeps the time since when it
// stands, and the next snapshot decides on it as on any alert that fires. An alert that is not in the table
// any more is left out.
func (e *Evaluator) Resume(standing []Alert) {
	for _, r := range e.rules {
		for _, a := range standing {
			if a.Name == r.Name {
				a.Severity, a.Summary, a.WhatToDo, a.Passing = r.Severity, r.Summary, r.WhatToDo, r.passing()
				r.tracked[a.Key()] = &tracked{alert: a, firing: true}
			}
		}
	}
}

// Active returns what fires, in the order of the table: the most urgent first.
func (e *Evaluator) Active() []Alert {
	var out []Alert
	for _, r := range e.rules {
		for _, key := range slices.Sorted(maps.Keys(r.tracked)) {
			if t := r.tracked[key]; t.firing {
				out = append(out, t.alert)
			}
		}
	}
	return out
}

// rule is one definition with the instances it follows, by their labels.
type rule struct {
	Definition
	text    *template.Template
	tracked map[string]*tracked
}

// tracked is an instance whose condition holds, or which still fires.
type tracked struct {
	alert  Alert
	firing bool
	gone   time.Time // since when the condition is gone; zero while it holds
}

func (r *rule) step(s *model.Snapshot) []Change {
	at := s.Outlook.At
	present := r.present(s)
	for key, in := range present {
		r.note(key, in, at)
	}
	var out []Change
	for _, key := range slices.Sorted(maps.Keys(r.tracked)) {
		t := r.tracked[key]
		was := t.firing
		if _, ok := present[key]; ok {
			t.firing = was || at.Sub(t.alert.Since) >= r.For
		} else if !t.lingers(at, r.KeepFiring) {
			t.firing = false
			delete(r.tracked, key)
		}
		if t.firing != was {
			out = append(out, Change{Alert: t.alert, Ended: was, At: at})
		}
	}
	return out
}

// move follows the labels of the shop clock: for how long a condition holds, or is gone, does not change when the
// time of day is set.
func (r *rule) move(by sensors.Shift) {
	for _, t := range r.tracked {
		t.alert.Since, t.gone = by.Moved(t.alert.Since), by.Moved(t.gone)
	}
}

// present returns the instances whose condition holds: for those that fire already the weaker one
// suffices.
func (r *rule) present(s *model.Snapshot) map[string]Instance {
	out := map[string]Instance{}
	if r.Stays != nil {
		for _, in := range r.Stays(s) {
			if t, ok := r.tracked[in.key()]; ok && t.firing {
				out[in.key()] = in
			}
		}
	}
	for _, in := range r.Condition(s) {
		out[in.key()] = in
	}
	return out
}

// note begins or goes on to follow an instance whose condition holds.
func (r *rule) note(key string, in Instance, at time.Time) {
	t, ok := r.tracked[key]
	if !ok {
		t = &tracked{alert: Alert{
			Name: r.Name, Severity: r.Severity, Labels: in.Labels,
			Summary: r.Summary, WhatToDo: r.WhatToDo, Since: at, Passing: r.passing(),
		}}
		r.tracked[key] = t
	}
	t.gone = time.Time{}
	t.alert.Description = describe(r.text, in)
}

// lingers reports whether an alert whose condition is gone goes on firing for now.
func (t *tracked) lingers(at time.Time, keep time.Duration) bool {
	if !t.firing || keep == 0 {
		return false
	}
	if t.gone.IsZero() {
		t.gone = at
	}
	return at.Sub(t.gone) < keep
}

// key tells instances of one alert apart.
func (in Instance) key() string {
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(in.Labels)) {
		fmt.Fprintf(&b, "%s=%q,", name, in.Labels[name])
	}
	return b.String()
}
