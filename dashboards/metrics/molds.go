package metrics

import (
	"slices"

	"pourward/model"
)

// Names of what tells of an open mold.
const (
	MoldInfo        = "pourward_mold_info"
	MoldBegun       = "pourward_mold_begun_timestamp_seconds"
	MoldPoured      = "pourward_mold_poured"
	MoldPourVerdict = "pourward_mold_pour_verdict"
	MoldPourReason  = "pourward_mold_pour_reason"
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
		return
	}
	putStates(to, MoldPourVerdict, verdicts(), m.Pour.Verdict, m.Name)
	for _, code := range model.ReasonCodes() {
		given := slices.ContainsFunc(m.Pour.Reasons, func(r model.Reason) bool { return r.Code == code })
		to.flag(MoldPourReason, given, m.Name, string(code))
	}
}
