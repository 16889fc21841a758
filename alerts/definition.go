package alerts

import (
	"strings"
	"time"

	"pourward/model"
)

// Severity says how soon someone must come. It is the severity label of the rules.
type Severity string

// The severities, most urgent first.
const (
	Critical Severity = "critical" // material or the record is being lost: come now
	Warning  Severity = "warning"  // will do harm if left: look today
	Info     Severity = "info"     // the next step may begin
)

// Definition is one alert, described for people, for the daemon and for Prometheus.
type Definition struct {
	Name     string
	Severity Severity
	Meaning  string // one sentence: what it tells the maker
	When     string // the condition in plain words
	WhatToDo string

	For        time.Duration // the condition must hold so long before the alert fires
	KeepFiring time.Duration // and be gone so long before it ends
	Labels     []string      // names of the labels that tell one instance from another
	// Passing: the alert is news, not a state, so that its end is none. So is every alert of severity info: it
	// ends because the maker recorded the next step.
	Passing bool

	// Condition lists what fires in a snapshot whose outlook is not nil; nil when only Prometheus can
	// see it.
	Condition func(*model.Snapshot) []Instance
	// Recall makes a condition that remembers the snapshots before this one, in the place of Condition; one
	// is made for each evaluator. nil for all others.
	Recall func() func(*model.Snapshot) []Instance
	// Stays lists what keeps an alert that fires already from ending, beyond what Condition lists; nil
	// when there is nothing more. It is the hysteresis.
	Stays func(*model.Snapshot) []Instance
	// Expr is the same in PromQL: Condition, Stays, and holding on while the daemon is not heard.
	Expr string

	Summary string // one sentence, the same for every instance
	// Description is a template in the language of Prometheus annotations, of which it uses $labels,
	// $value, eq, lt, printf and toTime.
	Description string
}

// RuleOnly reports whether the daemon cannot see this alert of itself, so that it exists in the rule
// file alone.
func (d Definition) RuleOnly() bool { return d.Condition == nil && d.Recall == nil }

func (d Definition) passing() bool { return d.Passing || d.Severity == Info }

// Anchor is the fragment of the alert's section in ALERTS.md.
func (d Definition) Anchor() string { return strings.ToLower(d.Name) }

// Instance is one thing an alert is about.
type Instance struct {
	Labels map[string]string
	Value  float64 // what Expr gives: °C, a count or Unix seconds, as the description needs; NaN = not known
}

// Table lists every alert, the most urgent first.
func Table() []Definition {
	return []Definition{
		workingLifeEnding(), workingLifeOver(), layerWindowClosing(), doubtful(), journalFailing(), daemonDown(), outlookStalled(),
		shopTooCold(), heatingOff(), coldComing(), cureChills(), patternNearDew(), airTooDamp(), patchNoLongerVouches(), demoldSlipping(),
		recordSetAside(), probeSilent(), probesDisagree(), probeFaltering(), clockUntrusted(),
		unheardTarget(),
		touchDue(), patchDue(), layerWindowOpen(), demoldReady(), coatDry(), releaseDry(),
	}
}
