package alerts

import (
	"fmt"
	"slices"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// slipSpan is how long what was told of a cure is held against what is told now: a working day's morning
// against its evening. Common practice, no source.
const slipSpan = 6 * time.Hour

func demoldSlipping() Definition {
	const name = "PourwardDemoldSlipping"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "A cure will take far longer than was told: whoever plans by the earlier time plans wrong.",
		When: "The likely time now told for a cure that is not done, or where no band is told the time before which it is not " +
			"done, is later than the latest time told for it at some instant of the last six hours: what nine in ten kept to is " +
			"now more likely broken than kept. Not where the mark it counts from was corrected meanwhile. It ends by itself when " +
			"that earlier time was told more than six hours ago. The daemon remembers nothing from before its start; Prometheus does.",
		WhatToDo: "Look whether a heater failed, a door stands open or the probe moved. Warm the place as far as " +
			"the rubber's sheet allows, and plan anew by the page. Do not demold by the earlier time. " + heaterCare,
		For:     10 * time.Minute,
		Labels:  []string{"mold", "step", "kind"},
		Passing: true,
		Recall:  slips,
		Expr:    bridged(name, slipExpr()),
		Summary: "A demold time slips.",
		Description: "{{ $labels.step }} on {{ $labels.mold }} will hardly be done by the latest time told within the last six hours" +
			"{{ if lt 0.0 $value }}: rather " + localTime + " or later{{ end }}.",
	}
}

func slipExpr() string {
	return fmt.Sprintf(`(
  pourward_step_likely_timestamp_seconds{kind="cure"}
  or
  pourward_step_not_before_timestamp_seconds{kind="cure"}
) > min_over_time(pourward_step_latest_timestamp_seconds{kind="cure"}[%[1]s])
unless changes(pourward_step_begun_timestamp_seconds{kind="cure"}[%[1]s]) > 0
and on (instance, job, mold, step) pourward_step_standing{kind="cure", %[2]s} == 1`,
		promDuration(slipSpan), standingIn(undone()))
}

// undone are the standings in which a cure is still waited for.
func undone() []model.Standing {
	return []model.Standing{model.Running, model.Maybe, model.CannotSay}
}

// told is what an outlook told of a cure.
type told struct {
	begun  time.Time
	latest time.Time // zero = no band
}

// moved follows the labels of the shop clock.
func (t told) moved(by sensors.Shift) told { return told{by.Moved(t.begun), by.Moved(t.latest)} }

func slips() func(*model.Snapshot) []Instance {
	past := newMemory[told](slipSpan)
	past.move = told.moved
	return func(s *model.Snapshot) []Instance {
		past.turn(s)
		var found []Instance
		for i := range s.Outlook.Molds {
			m := &s.Outlook.Molds[i]
			for _, step := range m.Steps {
				if !m.Open() || step.Kind != model.DemoldTime {
					continue
				}
				now := stepInstance(m.Name, step, rather(step))
				if slipped(step, past.note(now.key(), s.Outlook.At, toldOf(step))) {
					found = append(found, now)
				}
			}
		}
		return found
	}
}

func toldOf(s model.Step) told {
	if s.Standing == model.Closed {
		return told{begun: s.Begun}
	}
	return told{s.Begun, s.Band.Latest}
}

// rather is when a step will be done, likely or at the soonest; zero = not told.
func rather(s model.Step) time.Time {
	if s.Band.Told() {
		return s.Band.Likely
	}
	return s.NotBefore
}

// slipped reports whether a cure is told for later now than at the latest once before.
func slipped(cure model.Step, before []seen[told]) bool {
	if !slices.Contains(undone(), cure.Standing) {
		return false
	}
	slip := false
	for _, b := range before {
		if !b.what.begun.Equal(cure.Begun) {
			return false
		}
		slip = slip || !b.what.latest.IsZero() && rather(cure).After(b.what.latest)
	}
	return slip
}
