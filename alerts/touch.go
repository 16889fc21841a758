package alerts

import (
	"fmt"
	"time"

	"pourward/model"
)

// openVerdict is the verdict of a doubt that what was found does not settle.
const openVerdict = "cannot say yet"

func touchDue() Definition {
	const name = "PourwardTouchDue"
	return Definition{
		Name:     name,
		Severity: Info,
		Meaning:  "Only a touch can tell how a cure stands, and now is the time for it.",
		When: "The cure may be firm (standing `maybe`) and nothing was touched since it may be; or what was found left it " +
			"open, nine in ten like it are firm by now, and another touch is worth the walk. Until a check is recorded.",
		WhatToDo: "Touch the cup, then the patch or an edge of the mold, and record each as a check: firm or tacky. The page " +
			"tells which touch would settle most. Do not open the mold for it.",
		For:         15 * time.Minute,
		Labels:      []string{"mold", "step", "kind"},
		Condition:   duesOfTouch,
		Expr:        bridged(name, touchDueExpr()),
		Summary:     "A cure wants to be touched.",
		Description: "{{ $labels.step }} on {{ $labels.mold }} may be firm by now, and only a touch can tell.",
	}
}

func duesOfTouch(s *model.Snapshot) []Instance {
	var found []Instance
	for i := range s.Outlook.Molds {
		m := &s.Outlook.Molds[i]
		for _, step := range m.Steps {
			if m.Open() && m.Poured && step.Kind == model.DemoldTime && (untouched(m, step) || leftOpen(m, step, s.Outlook.At)) {
				found = append(found, stepInstance(m.Name, step, time.Time{}))
			}
		}
	}
	return found
}

// untouched reports whether a cure may be firm and nothing was touched since it may be.
func untouched(m *model.MoldOutlook, cure model.Step) bool {
	early := cure.Band.Earliest
	return cure.Standing == model.Maybe && (early.IsZero() || LastTouch(m).Before(early))
}

// leftOpen reports whether a cure past its time wants another touch now. Before its latest time a touch told
// without an instant may as well be one that cannot be foreseen.
func leftOpen(m *model.MoldOutlook, cure model.Step, now time.Time) bool {
	d, late := m.Doubt, cure.Band.Latest
	return d != nil && d.Verdict == openVerdict && d.Next != "" && !d.NextAt.After(now) &&
		cure.Standing == model.CannotSay && !late.IsZero() && !late.After(now)
}

func touchDueExpr() string {
	return fmt.Sprintf(`max without (pourward_step_standing) (pourward_step_standing{kind="cure", pourward_step_standing=%q} == 1) * NaN
and on (instance, job, mold) pourward_mold_poured == 1
unless on (instance, job, mold, step)
  pourward_step_earliest_timestamp_seconds{kind="cure"}
  <= on (instance, job, mold) group_left () pourward_mold_last_touch_timestamp_seconds
or
pourward_step_latest_timestamp_seconds{kind="cure"}
<= on (instance, job) group_left () pourward_outlook_timestamp_seconds
and on (instance, job, mold, step) pourward_step_standing{kind="cure", pourward_step_standing=%q} == 1
and on (instance, job, mold) pourward_mold_doubt_verdict{pourward_mold_doubt_verdict=%q} == 1
and on (instance, job, mold) pourward_mold_touch_advised == 1
unless on (instance, job, mold)
  pourward_mold_next_touch_timestamp_seconds > on (instance, job) group_left () pourward_outlook_timestamp_seconds`,
		model.Maybe, model.CannotSay, openVerdict)
}
