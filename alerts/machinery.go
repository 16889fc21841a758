package alerts

import (
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
