package alerts

import (
	"fmt"
	"time"

	"pourward/model"
)

// unsafeFor is how long readings may wait before that is a failure: several times longer than the
// journal lets them wait when all is well.
const unsafeFor = 5 * time.Minute

// JobName is what the scrape job must be called for the rules that watch the daemon from outside.
const JobName = "pourward"

func journalFailing() Definition {
	const name = "PourwardJournalFailing"
	return Definition{
		Name:     name,
		Severity: Critical,
		Meaning:  "Readings are not being made safe on disk; a power cut now would tear a hole into the record.",
		When:     "The last write of the journal failed, or readings have waited for more than five minutes to be made safe.",
		WhatToDo: "Look at the daemon's log for the reason: a full disk, a worn storage card, a missing permission. Do not " +
			"switch the board off before the record is safe; readings in memory are written as soon as it works again.",
		For:        2 * time.Minute,
		KeepFiring: 5 * time.Minute,
		Condition:  journalStands,
		Expr:       bridged(name, journalFailingExpr()),
		Summary:    "The record is not being made safe.",
		Description: "{{ if lt 0.0 $value }}Readings wait to be made safe on disk ({{ printf \"%.0f\" $value }} of them)" +
			"{{ else }}The journal cannot be written{{ end }}. What is not safe yet is lost if the board loses power now.",
	}
}

func journalStands(s *model.Snapshot) []Instance {
	j, at := s.Health.Journal, s.Outlook.At
	late := j.Waiting > 0 && at.Sub(j.LastSync) > unsafeFor && at.Sub(s.Health.Started) > unsafeFor
	if j.Err == "" && !late {
		return nil
	}
	return []Instance{{Value: float64(j.Waiting)}}
}

// journalFailingExpr reads the shop clock at the scrape, not at the outlook as the condition does: while
// the shop loop stands still nothing is made safe either, and the rule then comes by itself.
func journalFailingExpr() string {
	return fmt.Sprintf(`pourward_journal_waiting_readings
and pourward_journal_failing == 1
or
pourward_journal_waiting_readings > 0
and pourward_shop_clock_timestamp_seconds - pourward_journal_last_sync_timestamp_seconds > %[1]g
and pourward_shop_clock_timestamp_seconds - pourward_started_timestamp_seconds > %[1]g`, unsafeFor.Seconds())
}

func daemonDown() Definition {
	return Definition{
		Name:     "PourwardDaemonDown",
		Severity: Critical,
		Meaning:  "Nobody watches the shop: the daemon does not answer, or is not being asked.",
		When:     "Prometheus could not scrape the job `" + JobName + "`, or has no such job. Only Prometheus can see this.",
		WhatToDo: "Look whether the board has power and network and whether the daemon runs. Molds go on curing meanwhile: " +
			"trust the clock, the cup and your finger. After the restart the record is read again; the gap widens the bands.",
		For: 3 * time.Minute,
		Expr: `up{job="` + JobName + `"} == 0
or
absent(up{job="` + JobName + `"})`,
		Summary: "The daemon does not answer.",
		Description: "The daemon{{ if $labels.instance }} at {{ $labels.instance }}{{ end }} does not answer Prometheus. " +
			"Nothing it says is up to date, and alerts that were firing stay as they were.",
	}
}

func outlookStalled() Definition {
	return Definition{
		Name:     "PourwardOutlookStalled",
		Severity: Critical,
		Meaning:  "The daemon answers, but what it tells has stopped moving.",
		When:     "It publishes no outlook at all, or the same one for ten minutes. Only Prometheus can see this.",
		WhatToDo: "Look whether the board's clock has been set back; the outlook waits for it to catch up. Else read the daemon's " +
			"log and restart it: the outlook is computed again from the record. If it stalls again, keep log and journal.",
		For:         5 * time.Minute,
		Expr:        outlookStalledExpr,
		Summary:     "The outlook has stopped moving.",
		Description: "The daemon at {{ $labels.instance }} answers, but its outlook has not moved for at least ten minutes.",
	}
}

const outlookStalledExpr = `(up{job="` + JobName + `"} == 1 unless on (instance, job) pourward_outlook_timestamp_seconds)
or
changes(pourward_outlook_timestamp_seconds[10m]) == 0`

func clockUntrusted() Definition {
	const name = "PourwardClockUntrusted"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "The board does not know the time of day: every time told may be off by the same amount.",
		When:     "The time of day is not known to be right, as it is after the start of a board without a clock of its own and without network.",
		WhatToDo: "Bring the board to the network, or set its clock. Readings go on record meanwhile and are dated anew once the " +
			"time is known; note by your own watch when you coat, mix and pour. Trust the cup, not the times told.",
		For:         10 * time.Minute,
		Condition:   untrustedClock,
		Expr:        bridged(name, `pourward_clock_trusted == 0`),
		Summary:     "The time of day is not known to be right.",
		Description: "The board's clock cannot be trusted. Times told may all be off by the same amount.",
	}
}

func untrustedClock(s *model.Snapshot) []Instance {
	if s.Health.ClockTrusted {
		return nil
	}
	return []Instance{{Value: 0}}
}
