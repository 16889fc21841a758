package alerts

import (
	"fmt"
	"strings"

	"pourward/model"
)

// localTime writes $value, Unix seconds, as the time on the wall where Prometheus runs. Prometheus's own
// functions for instants write UTC.
const localTime = `{{ ($value | toTime).Local.Format "Mon 15:04" }}`

// firing selects what an alert held at the evaluation before this one.
func firing(name string) string { return state(name, "firing") }

func state(name, state string) string {
	return fmt.Sprintf(`ALERTS{alertname=%q, alertstate=%q}`, name, state)
}

// latched adds to expr what keeps an alert firing while scrapes bring no outlook: the daemon is down, or
// restarts. Without it Prometheus would report the alert as resolved. It ends when the target is taken
// out of the configuration, for then there is no series up. The value is not known meanwhile.
func latched(name, expr string) string {
	return expr + unheard(firing(name)) + `
and on (instance, job) up`
}

// bridged is latched for an alert that must hold for a while before it fires: one missed scrape must not
// start the wait anew. It goes on waiting for ten minutes at most, for a condition not heard of for longer
// is no reason to begin to call.
func bridged(name, expr string) string {
	return latched(name, expr) + unheard(state(name, "pending")) + `
and on (instance, job) last_over_time(pourward_shop_clock_timestamp_seconds[10m])`
}

// unheard is the former state of an alert where the scrape brought no outlook.
func unheard(former string) string {
	return `
or
(
  max without (alertname, alertstate, severity) (` + former + `) * NaN
  unless on (instance, job) pourward_shop_clock_timestamp_seconds
)`
}

// stepExpr finds the steps of one kind (any kind when it is empty) that stand at one of at. The value is
// the instant that bound gives, and NaN where there is none or no bound is asked for: an alert must not
// fail to fire for want of a time to tell.
func stepExpr(name string, kind model.StepKind, bound string, at ...model.Standing) string {
	ofKind := ""
	if kind != "" {
		ofKind = fmt.Sprintf("kind=%q", kind)
	}
	steps := fmt.Sprintf(`pourward_step_standing{%s} == 1`, joined(ofKind, standingIn(at)))
	expr := `max without (pourward_step_standing) (` + steps + `) * NaN`
	if bound != "" {
		expr = bound + "{" + ofKind + "}\nand on (instance, job, mold, step) (" + steps + ")\nor\n" + expr
	}
	return latched(name, expr)
}

func standingIn(at []model.Standing) string {
	if len(at) == 1 {
		return fmt.Sprintf(`pourward_step_standing=%q`, at[0])
	}
	words := make([]string, len(at))
	for i, s := range at {
		words[i] = string(s)
	}
	return fmt.Sprintf(`pourward_step_standing=~%q`, strings.Join(words, "|"))
}

func joined(parts ...string) string {
	kept := parts[:0]
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, ", ")
}
