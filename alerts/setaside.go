package alerts

import (
	"fmt"
	"slices"
	"strings"

	"pourward/model"
)

// setAside are the states in which the record is safe from now on, but not all of it whole in its own file.
func setAside() []model.RecordState {
	return []model.RecordState{model.RecordMarred, model.RecordDamaged, model.RecordNewer, model.RecordForeign, model.RecordReplaced, model.RecordApart}
}

func recordSetAside() Definition {
	const name = "PourwardRecordSetAside"
	var states []string
	for _, s := range setAside() {
		states = append(states, string(s))
	}
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "Part of the journal is damaged and left out; or its file cannot be used at all, and the record is kept in a rescue journal beside it.",
		When:     "The file is damaged, in part (marred) or as a whole; a newer version wrote it, or it is no journal; another file was put in its place while it was kept; or a rescue journal lies beside a sound one.",
		WhatToDo: "The page says what is wrong and what is lost. Marks and readings are safe meanwhile. When no working life runs, stop the " +
			"daemon, run pourward mend on the journal, and do what it says. Find out why the file was damaged: a worn storage card damages the next one, too.",
		Condition: func(s *model.Snapshot) []Instance {
			if !slices.Contains(setAside(), s.Health.Journal.Stand.State) {
				return nil
			}
			return []Instance{{Value: 1}}
		},
		Expr: latched(name, fmt.Sprintf(`max without (pourward_journal_state) (pourward_journal_state{pourward_journal_state=~%q} == 1)`,
			strings.Join(states, "|"))),
		Summary:     "The record is not whole in its own file.",
		Description: "Part of the record is damaged, or lies in a rescue journal beside the journal: the page says which.",
	}
}
