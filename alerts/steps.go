package alerts

import (
	"math"
	"slices"
	"time"

	"pourward/model"
)

func workingLifeEnding() Definition {
	const name = "PourwardWorkingLifeEnding"
	return Definition{
		Name:     name,
		Severity: Critical,
		Meaning:  "A mixed batch is about to become too stiff to pour.",
		When: "One batch in ten like this one would be past its working life by now (standing `ending`). It ends when the " +
			"batch is poured, or gives way to PourwardWorkingLifeOver.",
		WhatToDo: "Pour or brush what still flows now, then record \"poured\". If it strings, lumps or has grown warm, do not " +
			"pour it on the pattern: keep the cup as the control, and withdraw the mark \"mixed\".",
		Labels:    []string{"mold", "step", "kind"},
		Condition: stepsAt(model.WorkingLife, likely, model.Ending),
		Expr:      stepExpr(name, model.WorkingLife, "pourward_step_likely_timestamp_seconds", model.Ending),
		Summary:   "The working life of a mixed batch is running out.",
		Description: "The working life of {{ $labels.step }} on {{ $labels.mold }} is running out" +
			"{{ if lt 0.0 $value }}: its likely end is " + localTime + "{{ end }}. " +
			"At least one batch in ten like it is too stiff to pour by now.",
	}
}

// workingLifeOver is an alert of its own because it asks for the contrary of the one before it, and whoever
// was called then must hear of it at once.
func workingLifeOver() Definition {
	const name = "PourwardWorkingLifeOver"
	return Definition{
		Name:     name,
		Severity: Critical,
		Meaning:  "A mixed batch is too stiff to pour and was not recorded as poured.",
		When: "Nine batches in ten like this one would be past their working life by now (standing `over`), until \"poured\" " +
			"is recorded or \"mixed\" is withdrawn.",
		WhatToDo: "Do not pour it on the pattern: it no longer flows into the detail and wets badly. If it is on the pattern " +
			"already, record \"poured\" with the time when it was. Else keep the cup as the control, let it cure before it is " +
			"thrown away as its safety data sheet says, and withdraw the mark \"mixed\".",
		Labels:    []string{"mold", "step", "kind"},
		Condition: stepsAt(model.WorkingLife, latest, model.Over),
		Expr:      stepExpr(name, model.WorkingLife, "pourward_step_latest_timestamp_seconds", model.Over),
		Summary:   "The working life of a mixed batch is over.",
		Description: "The working life of {{ $labels.step }} on {{ $labels.mold }} is over" +
			"{{ if lt 0.0 $value }}: nine batches in ten like it were too stiff to pour by " + localTime + "{{ end }}.",
	}
}

func doubtful() Definition {
	const name = "PourwardDoubtful"
	return Definition{
		Name:     name,
		Severity: Critical,
		Meaning:  "Something is tacky that should be firm: not late, but wrong.",
		When: "A check found it tacky after the time by which nine in ten are firm, or tacky while its cup was firm " +
			"(standing `doubtful`).",
		WhatToDo: "Do not go on over it, and do not demold. If it is rubber, touch the cup: a firm cup points at the " +
			"surface, a tacky cup at the mix. Record what you find as a check. No projection overrules what the finger found.",
		Labels:    []string{"mold", "step", "kind"},
		Condition: stepsAt("", untold, model.Doubtful),
		Expr:      stepExpr(name, "", "", model.Doubtful),
		Summary:   "Something is tacky that should be firm.",
		Description: "{{ $labels.step }} on {{ $labels.mold }} was found tacky where it should be firm. " +
			"This does not look like a late step in a cold shop.",
	}
}

func layerWindowOpen() Definition {
	const name = "PourwardLayerWindowOpen"
	return Definition{
		Name:     name,
		Severity: Info,
		Meaning:  "A brushed layer has set far enough to take the next one.",
		When:     "Nine in ten layers like it would take the next one by now (standing `ready`), until the next mark is recorded or the window closes.",
		WhatToDo: "Touch it with a gloved finger: set but tacky is right. Mix, brush the next layer on and record \"layer on\". If it was " +
			"the last one, correct the number of layers where the mold was begun.",
		Labels:    []string{"mold", "step", "kind"},
		Condition: stepsAt(model.LayerWindow, latest, model.Ready),
		Expr:      stepExpr(name, model.LayerWindow, "pourward_step_latest_timestamp_seconds", model.Ready),
		Summary:   "The next layer may go on.",
		Description: "{{ $labels.step }} on {{ $labels.mold }} takes the next layer" +
			"{{ if lt 0.0 $value }}: nine in ten like it did by " + localTime + "{{ end }}.",
	}
}

func layerWindowClosing() Definition {
	const name = "PourwardLayerWindowClosing"
	return Definition{
		Name:     name,
		Severity: Critical,
		Meaning:  "The next layer will soon no longer bond to the one that is on.",
		When: "One layer in ten like this one would no longer bond by now (standing `ending`). It ends when the next layer is " +
			"recorded, and when nine in ten would not.",
		WhatToDo: "Mix and brush the next layer on now, then record \"layer on\". Later the bond is doubtful: follow the rubber's data " +
			"sheet, abrade or clean as it says, or brush a test first. If it was the last layer, correct the number of layers " +
			"where the mold was begun.",
		Labels:    []string{"mold", "step", "kind"},
		Condition: stepsAt(model.LayerWindow, shuts, model.Ending),
		Expr:      stepExpr(name, model.LayerWindow, "pourward_step_closes_likely_timestamp_seconds", model.Ending),
		Summary:   "The window for the next layer is closing.",
		Description: "The window for the next layer over {{ $labels.step }} on {{ $labels.mold }} is closing" +
			"{{ if lt 0.0 $value }}: its likely end is " + localTime + "{{ end }}. " +
			"At least one layer in ten like it no longer bonds by now.",
	}
}

func demoldReady() Definition {
	const name = "PourwardDemoldReady"
	return Definition{
		Name:     name,
		Severity: Info,
		Meaning:  "A mold has cured long enough, at the temperatures it had, to come off.",
		When:     "Nine in ten like it could be demolded by now (cure with standing `ready`), until \"demolded\" is recorded.",
		WhatToDo: "Touch the cup and an edge of the mold first; if either is tacky, record the check and leave the mold on. " +
			"When it is off, record \"demolded\".",
		Labels:    []string{"mold", "step", "kind"},
		Condition: stepsAt(model.DemoldTime, latest, model.Ready),
		Expr:      stepExpr(name, model.DemoldTime, "pourward_step_latest_timestamp_seconds", model.Ready),
		Summary:   "A mold may be demolded.",
		Description: "{{ $labels.mold }} may be demolded" +
			"{{ if lt 0.0 $value }}: nine in ten like it were cured by " + localTime + "{{ end }}. " +
			"A tacky cup or edge overrules this.",
	}
}

func coatDry() Definition {
	const name = "PourwardCoatDry"
	return Definition{
		Name:     name,
		Severity: Info,
		Meaning:  "A seal coat is dry.",
		When:     "Nine in ten coats like it would be dry by now (standing `ready`), until the next mark is recorded.",
		WhatToDo: "Touch it where it does not show, then go on: the next coat, the release agent, or the pour. Record what you do.",
		Labels:   []string{"mold", "step", "kind"},

		Condition: stepsAt(model.CoatDry, latest, model.Ready),
		Expr:      stepExpr(name, model.CoatDry, "pourward_step_latest_timestamp_seconds", model.Ready),
		Summary:   "A seal coat is dry.",
		Description: "{{ $labels.step }} on {{ $labels.mold }} counts as dry" +
			"{{ if lt 0.0 $value }}: nine in ten like it were by " + localTime + "{{ end }}.",
	}
}

func releaseDry() Definition {
	const name = "PourwardReleaseDry"
	return Definition{
		Name:     name,
		Severity: Info,
		Meaning:  "The release agent is dry.",
		When:     "Nine in ten like it would be dry by now (standing `ready`), until the next mark is recorded.",
		WhatToDo: "Ask the page whether the shop is fit to pour; if it is, mix and pour. Record \"mixed\" when the two parts meet.",
		Labels:   []string{"mold", "step", "kind"},

		Condition: stepsAt(model.ReleaseDry, latest, model.Ready),
		Expr:      stepExpr(name, model.ReleaseDry, "pourward_step_latest_timestamp_seconds", model.Ready),
		Summary:   "The release agent is dry.",
		Description: "{{ $labels.step }} on {{ $labels.mold }} counts as dry" +
			"{{ if lt 0.0 $value }}: nine in ten like it were by " + localTime + "{{ end }}.",
	}
}

// stepsAt finds the steps of open molds of one kind (any kind when it is empty) that stand at one of at.
func stepsAt(kind model.StepKind, value func(model.Step) time.Time, at ...model.Standing) func(*model.Snapshot) []Instance {
	return func(s *model.Snapshot) []Instance {
		var found []Instance
		for i := range s.Outlook.Molds {
			m := &s.Outlook.Molds[i]
			for _, step := range m.Steps {
				if m.Open() && (kind == "" || step.Kind == kind) && slices.Contains(at, step.Standing) {
					found = append(found, stepInstance(m.Name, step, value(step)))
				}
			}
		}
		return found
	}
}

func stepInstance(mold string, step model.Step, t time.Time) Instance {
	labels := map[string]string{"mold": mold, "step": step.Name, "kind": string(step.Kind)}
	return Instance{Labels: labels, Value: unixSeconds(t, math.NaN())}
}

func likely(s model.Step) time.Time { return s.Band.Likely }
func latest(s model.Step) time.Time { return s.Band.Latest }
func shuts(s model.Step) time.Time  { return s.Closes.Likely }
func untold(model.Step) time.Time   { return time.Time{} }

// unixSeconds returns t as metrics give it, or none for the zero time.
func unixSeconds(t time.Time, none float64) float64 {
	if t.IsZero() {
		return none
	}
	return float64(t.UnixMilli()) / 1000
}
