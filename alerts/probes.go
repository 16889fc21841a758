package alerts

import (
	"fmt"
	"math"
	"slices"
	"time"

	"pourward/model"
)

func probeSilent() Definition {
	const name = "PourwardProbeSilent"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "A probe gives nothing that can be trusted; what depends on it cannot be told.",
		When:     "The probe has given no trusted reading for three of its intervals, and at least two minutes.",
		WhatToDo: "Look at the cable, the connector and the supply of the probe. The page tells the last error and which " +
			"molds depend on it. A check by hand still counts while the probe is out.",
		For:        5 * time.Minute,
		KeepFiring: 5 * time.Minute,
		Labels:     []string{"probe"},
		Condition:  silentProbes,
		Expr:       bridged(name, probeSilentExpr),
		Summary:    "A probe is silent.",
		Description: "Probe {{ $labels.probe }} has given no trusted reading" +
			"{{ if lt 0.0 $value }} since " + localTime + "{{ end }}.",
	}
}

func silentProbes(s *model.Snapshot) []Instance {
	var found []Instance
	for _, p := range s.Outlook.Probes {
		if p.Silent {
			found = append(found, Instance{Labels: map[string]string{"probe": p.Name}, Value: unixSeconds(p.Last, 0)})
		}
	}
	return found
}

const probeSilentExpr = `pourward_probe_last_success_timestamp_seconds
and pourward_probe_silent == 1`

func probesDisagree() Definition {
	const name = "PourwardProbesDisagree"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "Two probes of one place tell different temperatures; what is told may rest on the wrong one.",
		When: "The probe believed at a place and another one there differ, over half an hour, by more than their accuracies and " +
			"an honest gradient explain.",
		WhatToDo: "The page names both and tells which is believed. Lay both side by side, shaded and away from the wall, for half " +
			"an hour, beside a thermometer you trust; list the one that is right first, mend or move the other.",
		For:         15 * time.Minute,
		KeepFiring:  time.Hour,
		Labels:      []string{"place"},
		Condition:   disagreements,
		Expr:        bridged(name, probesDisagreeExpr),
		Summary:     "Two probes of one place disagree.",
		Description: "Two probes at {{ $labels.place }} differ{{ if lt 0.0 $value }} by {{ printf \"%.1f\" $value }} °C{{ end }}.",
	}
}

func disagreements(s *model.Snapshot) []Instance {
	var found []Instance
	for _, p := range s.Outlook.Places {
		if p.Known && p.OffProbe != "" && p.OffK != 0 {
			found = append(found, Instance{Labels: map[string]string{"place": p.Name}, Value: math.Abs(p.OffK)})
		}
	}
	return found
}

const probesDisagreeExpr = `abs(pourward_place_probe_difference_celsius != 0)`

// A probe falters where at least one attempt in ten came to nothing over some hours. One fault at switching
// on, or a few on a long cable, are usual. Common practice, no source.
const (
	falterSpan   = 2 * time.Hour
	falterShare  = 10 // one attempt in so many
	falterErrors = 10 // at the least
)

func probeFaltering() Definition {
	const name = "PourwardProbeFaltering"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "A probe still speaks, but ever so often gives nothing to trust: it may be about to fail.",
		When: "Of the attempts to read the probe within the last two hours at least one in ten, and ten in all, gave nothing to " +
			"trust, though it was never silent meanwhile. Counted from the daemon's start at the earliest.",
		WhatToDo: "Look at the connector, the cable and its supply before the probe is needed: corroded contacts, a cable too long " +
			"or beside a motor. The metrics tell what kind of fault it is.",
		For:         15 * time.Minute,
		KeepFiring:  30 * time.Minute,
		Labels:      []string{"probe"},
		Recall:      falterings,
		Expr:        bridged(name, falteringExpr()),
		Summary:     "A probe falters.",
		Description: "Probe {{ $labels.probe }} gave nothing to trust in{{ if lt 0.0 $value }} {{ printf \"%.0f\" $value }} of a hundred{{ else }} many{{ end }} attempts of the last two hours.",
	}
}

// attempts is how a probe did: the counts are since the daemon's start.
type attempts struct {
	reads, errors uint64
	silent        bool
}

func falterings() func(*model.Snapshot) []Instance {
	past := newMemory[attempts](falterSpan)
	return func(s *model.Snapshot) []Instance {
		past.turn(s)
		var found []Instance
		for _, p := range s.Health.Probes {
			if percent, falters := faltering(past.note(p.Name, s.Outlook.At, attemptsOf(s.Outlook, p))); falters {
				found = append(found, Instance{Labels: map[string]string{"probe": p.Name}, Value: percent})
			}
		}
		return found
	}
}

func attemptsOf(o *model.Outlook, p model.ProbeHealth) attempts {
	a := attempts{reads: p.Reads}
	for _, n := range p.Faults {
		a.errors += n
	}
	a.silent = !slices.ContainsFunc(o.Probes, func(x model.ProbeOutlook) bool { return x.Name == p.Name && !x.Silent })
	return a
}

// faltering tells how many of a hundred attempts came to nothing. A probe that was silent meanwhile was called
// for that already.
func faltering(all []seen[attempts]) (percent float64, falters bool) {
	if slices.ContainsFunc(all, func(a seen[attempts]) bool { return a.what.silent }) {
		return 0, false
	}
	first, last := all[0].what, all[len(all)-1].what
	reads, errors := last.reads-first.reads, last.errors-first.errors
	return 100 * float64(errors) / float64(reads), errors >= falterErrors && errors*falterShare >= reads
}

// falteringExpr subtracts the least of the span, not increase(), which extrapolates: counts are exact, and
// begin at 0 with the daemon.
func falteringExpr() string {
	since := func(counter string) string {
		return fmt.Sprintf("(%[1]s - min_over_time(%[1]s[%[2]s]))", counter, promDuration(falterSpan))
	}
	errors, reads := "sum without (fault) "+since("pourward_probe_read_errors_total"), since("pourward_probe_reads_total")
	return fmt.Sprintf(`100 * %[1]s / %[2]s
and %[1]s >= %[3]d
and %[1]s * %[4]d >= %[2]s
and max_over_time(pourward_probe_silent[%[5]s]) == 0`, errors, reads, falterErrors, falterShare, promDuration(falterSpan))
}
