package alerts

import (
	"fmt"
	"time"

	"pourward/model"
)

// unheardFor is how long a target may go without what it must hear: longer than a router takes to start anew.
// Common practice, no source.
const unheardFor = 10 * time.Minute

func unheardTarget() Definition {
	const name = "PourwardUnheard"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "Someone who is to be told of alerts is not reached: nobody may come when it matters.",
		When: "An Alertmanager, a mail server or a webhook has not taken what it must hear for more than ten minutes. What " +
			"quiet hours hold back does not count.",
		WhatToDo: "Look at the shop's network, and at the reason in the daemon's log: a wrong password and a certificate that ran " +
			"out stand there. Then send a trial with \"pourward try-message\". Nothing is lost: it is tried every minute. Until it " +
			"gets through look at the page.",
		For:        2 * time.Minute,
		KeepFiring: 5 * time.Minute,
		Labels:     []string{"target", "channel"},
		Condition:  unheardTargets,
		Expr: bridged(name, fmt.Sprintf(`pourward_delivery_oldest_waiting_timestamp_seconds
< on (instance, job) group_left () (pourward_outlook_timestamp_seconds - %g)`, unheardFor.Seconds())),
		Summary: "Someone who is to be told of alerts is not reached.",
		Description: "{{ $labels.target }} ({{ $labels.channel }}) has not heard what it must" +
			"{{ if lt 0.0 $value }} since " + localTime + "{{ end }}.",
	}
}

func unheardTargets(s *model.Snapshot) []Instance {
	var found []Instance
	for _, d := range s.Health.Delivery {
		if d.Oldest > unheardFor {
			labels := map[string]string{"target": d.Target, "channel": d.Channel}
			found = append(found, Instance{Labels: labels, Value: unixSeconds(s.Outlook.At.Add(-d.Oldest), 0)})
		}
	}
	return found
}
