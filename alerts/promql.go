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
func firing(name string) string {
	return fmt.Sprintf(`ALERTS{alertname=%q, alertstate="firing"}`, name)
}

// latched adds to expr what keeps an alert firing while scrapes bring no outlook: the daemon is down, or
// restarts. Without it Prometheus would report the alert as resolved. It ends when the target is taken
// out of the configuration, for then there is no series up. The value is not known meanwhile.
func latched(name, expr string) string {
	return expr + `
or
(
  max without (alertname, alertstate, severity) (` + firing(name) + `) * NaN
  unless on (instance, job) pourward_shop_clock_timestamp_seconds
)
and on (instance, job) up`
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

// The expressions below look back ten minutes, because the alerts wait for longer than two scrapes and
// one missed scrape would otherwise start the wait anew.

// tooColdExpr: below the window; or firing and less than backK above it; or firing and not known now.
func tooColdExpr(name string) string {
	return fmt.Sprintf(`last_over_time(pourward_place_temperature_celsius[10m])
  < last_over_time(pourward_place_pour_window_min_celsius[10m])
and last_over_time(pourward_place_known[10m]) == 1
and last_over_time(pourward_place_open_molds[10m]) > 0
or
last_over_time(pourward_place_temperature_celsius[10m])
  < last_over_time(pourward_place_pour_window_min_celsius[10m]) + %[1]g
and last_over_time(pourward_place_known[10m]) == 1
and last_over_time(pourward_place_open_molds[10m]) > 0
and on (instance, job, place) %[2]s
or
(last_over_time(pourward_place_known[10m]) == 0) * NaN
and last_over_time(pourward_place_open_molds[10m]) > 0
and on (instance, job, place) %[2]s`, backK, firing(name))
}

const probeSilentExpr = `last_over_time(pourward_probe_last_success_timestamp_seconds[10m])
and last_over_time(pourward_probe_silent[10m]) == 1`

// journalFailingExpr reads the shop clock at the scrape, not at the outlook as the condition does: while
// the shop loop stands still nothing is made safe either, and the rule then comes by itself.
func journalFailingExpr() string {
	return fmt.Sprintf(`last_over_time(pourward_journal_waiting_readings[10m])
and last_over_time(pourward_journal_failing[10m]) == 1
or
last_over_time(pourward_journal_waiting_readings[10m]) > 0
and last_over_time(pourward_shop_clock_timestamp_seconds[10m])
  - last_over_time(pourward_journal_last_sync_timestamp_seconds[10m]) > %[1]g
and last_over_time(pourward_shop_clock_timestamp_seconds[10m])
  - last_over_time(pourward_started_timestamp_seconds[10m]) > %[1]g`, unsafeFor.Seconds())
}

const outlookStalledExpr = `(up{job="` + JobName + `"} == 1 unless on (instance, job) pourward_outlook_timestamp_seconds)
or
changes(pourward_outlook_timestamp_seconds[10m]) == 0`
