package alerts

import (
	"time"

	"pourward/model"
)

func cureChills() Definition {
	const name = "PourwardCureChills"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "A cure that is not done is likely to get so cold that some products of its class never cure.",
		When: "In at least half of what the forecast holds likely, the air of a mold falls below the temperature its rubber is " +
			"doubtful under, before the likely time of the cure. It ends when that is no longer likely, half an hour after, or with the cure.",
		WhatToDo: "Carry the mold into a warm box, or heat the place as far as the rubber's sheet allows, before the cold comes. " +
			"Go by the cup, not by the clock: a mild contaminant inhibits in the cold. " + heaterCare,
		For:         30 * time.Minute,
		KeepFiring:  30 * time.Minute,
		Labels:      []string{"mold", "step", "kind"},
		Condition:   chills,
		Expr:        bridged(name, "pourward_step_too_cold_from_timestamp_seconds"),
		Summary:     "It is likely to be too cold for a cure.",
		Description: "The air around {{ $labels.mold }} is likely to be too cold for its {{ $labels.step }}{{ if lt 0.0 $value }} from " + localTime + " on{{ end }}.",
	}
}

func chills(s *model.Snapshot) []Instance {
	var found []Instance
	for i := range s.Outlook.Molds {
		m := &s.Outlook.Molds[i]
		for _, step := range m.Steps {
			if m.Open() && step.Standing != model.Closed && !step.ColdFrom.IsZero() {
				found = append(found, stepInstance(m.Name, step, step.ColdFrom))
			}
		}
	}
	return found
}
