package metrics

import (
	"pourward/alerts"
	"pourward/model"
)

// Names of what tells of an open mold.
const (
	MoldInfo        = "pourward_mold_info"
	MoldBegun       = "pourward_mold_begun_timestamp_seconds"
	MoldPoured      = "pourward_mold_poured"
	MoldPourVerdict = "pourward_mold_pour_verdict"
	MoldPourReason  = "pourward_mold_pour_reason"
	MoldPourFrom    = "pourward_mold_pour_fit_from_timestamp_seconds"
	MoldPourWarmed  = "pourward_mold_pour_fit_from_if_warmed_timestamp_seconds"
	MoldVouched     = "pourward_mold_patch_vouches"
	MoldLastTouch   = "pourward_mold_last_touch_timestamp_seconds"
	MoldVerdict     = "pourward_mold_doubt_verdict"
	MoldCause       = "pourward_mold_cause_probability_ratio"
	MoldAdvised     = "pourward_mold_touch_advised"
	MoldNextTouch   = "pourward_mold_next_touch_timestamp_seconds"
)

func moldsTable() []Metric {
	const mold = "mold"
	return []Metric{
		plain(MoldInfo, Facts, "What each open mold is, where it stands, the place of the probe on its pattern, and its rubber. Always 1.",
			mold, "title", "place", "surface", "rubber"),
		moment(MoldBegun, "When the mold was begun.", mold),
		plain(MoldPoured, Flag, "1 when rubber is on the pattern, 0 before.", mold),
		states(MoldPourVerdict, "Whether everything is fit to pour on this pattern: the verdict that holds is 1, the others are 0. Absent once poured.", mold),
		plain(MoldPourReason, Flag, "1 for each reason that speaks against pouring or for caution, 0 for the others. Absent once poured.", mold, "reason"),
		moment(MoldPourFrom, "When it turns fit to pour, nine in ten by the forecast. Absent once poured, when it is fit, when waiting does not mend it, and beyond the forecast.", mold),
		moment(MoldPourWarmed, "When it would turn fit to pour if the place were held at room warmth from now on. Absent where that would not be sooner, or cannot be told.", mold),
		plain(MoldVouched, Flag, "1 when a test patch that passed vouches for pouring on this mold as it is now, 0 when none does. Absent once poured.", mold),
		moment(MoldLastTouch, "When cup, patch or mold were last touched. Absent before the pour, and when nothing was touched.", mold),
		states(MoldVerdict, "What to believe of a cure that was touched, late, inhibited or bad: the verdict that holds is 1, the others are 0. Absent while nothing was touched.", mold),
		quantity(MoldCause, ratio, "Probability of each cause of what was found, from 0 to 1; together they are 1. Absent while nothing was touched.", mold, "cause"),
		plain(MoldAdvised, Flag, "1 when another touch is worth the walk, now or later, 0 when not. Absent while nothing was touched.", mold),
		moment(MoldNextTouch, "When the touch that would tell most is due. Absent when none is worth the walk, when it is now, and when it cannot be foreseen.", mold),
	}
}

func collectMolds(to sink, o *model.Outlook) {
	for i := range o.Molds {
		if m := &o.Molds[i]; m.Open() {
			collectMold(to, m)
			for _, s := range m.Steps {
				collectStep(to, m.Name, s)
			}
		}
	}
}

func collectMold(to sink, m *model.MoldOutlook) {
	to.put(MoldInfo, 1, m.Name, m.Title, m.Place, m.Surface, m.Rubber)
	to.instant(MoldBegun, m.Begun, m.Name)
	to.flag(MoldPoured, m.Poured, m.Name)
	if m.Poured {
		collectDoubt(to, m)
		return
	}
	putStates(to, MoldPourVerdict, verdicts(), m.Pour.Verdict, m.Name)
	putReasons(to, MoldPourReason, model.ReasonCodes(), m.Pour, m.Name)
	to.flag(MoldVouched, m.Vouch != nil, m.Name)
	to.instant(MoldPourFrom, m.Pour.From, m.Name)
	if w := m.Pour.Warmer; w != nil {
		to.instant(MoldPourWarmed, w.From, m.Name)
	}
}

// collectDoubt tells what was touched of a cure, and what it says.
func collectDoubt(to sink, m *model.MoldOutlook) {
	to.instant(MoldLastTouch, alerts.LastTouch(m), m.Name)
	d := m.Doubt
	if d == nil {
		return
	}
	putStates(to, MoldVerdict, doubtVerdicts(), d.Verdict, m.Name)
	for _, c := range causes(d) {
		to.quantity(MoldCause, c.probability, m.Name, c.name)
	}
	to.flag(MoldAdvised, d.Next != "", m.Name)
	to.instant(MoldNextTouch, d.NextAt, m.Name)
}

// doubtVerdicts lists the answers to "late, inhibited, or a bad batch?".
func doubtVerdicts() []string {
	return []string{"cannot say yet", "wait", "surface inhibits", "batch bad", "fine"}
}

type cause struct {
	name        string
	probability float64
}

// causes lists what may lie behind a finding; they exclude one another.
func causes(d *model.Doubt) []cause {
	return []cause{
		{"nothing wrong", d.NothingWrong},
		{"surface inhibits", d.SurfaceInhibits},
		{"batch bad", d.BatchBad},
		{"surface and batch", d.BothWrong},
		{"cup alone", d.OnlyCup},
	}
}
