package page

import (
	"time"

	"pourward/model"
	"pourward/model/doubt"
)

// inhibited: the surface inhibits, and no further touch would tell more.
func inhibited() *model.Doubt {
	return &model.Doubt{
		Verdict: doubt.Inhibited.String(),
		Says:    "cup firm, patch tacky at 2.1 times its time, mold surface spoiled: the surface inhibits.",
		Do: []string{"Clean off, seal, release, patch again.", "If a patch fails again: another material, or the two-step route by a pattern of resin.",
			doubt.NoListIsComplete},
		Cautions:     []string{doubt.CautionCleaning},
		NothingWrong: 0.0001, SurfaceInhibits: 0.9616, BatchBad: 0.0061, BothWrong: 0.0322,
		Routes: doubt.Routes(),
	}
}

// waiting: the cup is tacky, and it is early.
func waiting() *model.Doubt {
	return &model.Doubt{
		Verdict: doubt.Wait.String(), Says: "cup tacky before its earliest time: wait.",
		Do:           []string{"Leave it, keep it warm as its sheet allows, and touch again later."},
		NothingWrong: 0.8559, SurfaceInhibits: 0.0901, BatchBad: 0.0402, BothWrong: 0.0042, OnlyCup: 0.0096,
		Next:   "Touch the patch at 1.7 times its time: if tacky, it stays open; if firm, nothing is wrong.",
		NextAt: hm(1, 2, 33),
	}
}

// unsettled: the patch alone was touched.
func unsettled() *model.Doubt {
	return &model.Doubt{
		Verdict: doubt.CannotSay.String(), Says: "patch tacky at 1.5 times its time: cannot say yet; the surface is in doubt.",
		Do:           []string{"Do not scrape off, do not pour on it, do not demold; touch again."},
		NothingWrong: 0.1818, SurfaceInhibits: 0.5092, BatchBad: 0.2819, BothWrong: 0.0251, OnlyCup: 0.002,
		Next: "Touch the cup at 1.6 times its time: if tacky, it stays open; if firm, it stays open.",
	}
}

// badBatch: everything is tacky far past its time.
func badBatch() *model.Doubt {
	return &model.Doubt{
		Verdict: doubt.BadBatch.String(),
		Says:    "cup tacky at 3.2 times its time, patch tacky at 3.2 times its time, mold tacky at 3.2 times its time: the batch is bad.",
		Do: []string{"Do not pour more of it. It does not come right by waiting, and heat does not mend it.",
			"Look at: the ratio of the parts; the mixing, down to walls and bottom; what touched it: cup, tools, gloves, pigment; the age of the parts and how they were kept.",
			"Clean off, and try a weighed small cup before the next batch; whether the surface inhibits is not known yet."},
		Cautions: []string{doubt.CautionCleaning},
		BatchBad: 0.94, BothWrong: 0.06,
	}
}

// fineSoFar: all is firm.
func fineSoFar() *model.Doubt {
	return &model.Doubt{
		Verdict: doubt.Fine.String(), Says: "cup firm, patch firm, mold firm: nothing speaks against it.",
		Do:           []string{"Demold when its time says so; a firm edge does not show the face."},
		NothingWrong: 0.9984, SurfaceInhibits: 0.0011, BatchBad: 0.0002, OnlyCup: 0.0003,
	}
}

// keystone is poured with a batch that went wrong.
func keystone() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "keystone", Title: "Keystone", Place: "bench", Rubber: "platinum-slow", Begun: hm(-1, 14, 0), Poured: true,
		Steps: []model.Step{cannedStep(31, model.DemoldTime, "cure", "Cure", "platinum-slow", hm(-1, 16, 0), time.Time{}, model.Projection{
			Standing: model.Doubtful, Band: band(hm(-1, 22, 0), hm(0, 0, 10), hm(0, 4, 0)), Share: 1, RoomTime: 4 * time.Hour, Why: []string{badBatch().Says}})},
		Doubt: badBatch(), Next: "Do not demold or pour more: " + badBatch().Says,
		Marks: []model.Mark{
			{ID: 30, Kind: model.Begun, Mold: "keystone", At: hm(-1, 14, 0), Entered: hm(-1, 14, 0), Title: "Keystone", Place: "bench", Material: "platinum-slow"},
			{ID: 31, Kind: model.Poured, Mold: "keystone", At: hm(-1, 16, 0), Entered: hm(-1, 16, 0)},
			{ID: 32, Kind: model.Checked, Mold: "keystone", At: hm(0, 18, 0), Entered: hm(0, 18, 0), Of: model.Cup, Found: model.Tacky},
			{ID: 33, Kind: model.Checked, Mold: "keystone", At: hm(0, 18, 1), Entered: hm(0, 18, 1), Of: model.Patch, Found: model.Tacky},
			{ID: 34, Kind: model.Checked, Mold: "keystone", At: hm(0, 18, 2), Entered: hm(0, 18, 2), Of: model.Mold, Found: model.Tacky},
		},
	}
}

// tablet is a mold of which nothing can be said yet.
func tablet() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "tablet", Title: "Tablet with inscription", Place: "bench", Rubber: "platinum-slow", Begun: hm(0, 6, 0), Poured: true,
		Steps: []model.Step{cannedStep(41, model.DemoldTime, "cure", "Cure", "platinum-slow", hm(0, 7, 0), time.Time{}, model.Projection{
			Standing: model.CannotSay, Share: 1, RoomTime: 4 * time.Hour, Why: []string{"what was found leaves it open: touch again"}})},
		Doubt: unsettled(), Next: "Go by the cup: the demold time cannot be told.",
		Marks: []model.Mark{
			{ID: 40, Kind: model.Begun, Mold: "tablet", At: hm(0, 6, 0), Entered: hm(0, 6, 0), Title: "Tablet with inscription", Place: "bench", Material: "platinum-slow"},
			{ID: 41, Kind: model.Poured, Mold: "tablet", At: hm(0, 7, 0), Entered: hm(0, 7, 0)},
			{ID: 42, Kind: model.Checked, Mold: "tablet", At: hm(0, 18, 20), Entered: hm(0, 18, 20), Of: model.Patch, Found: model.Tacky},
		},
	}
}

// plagued is the annex on a bad day: molds in doubt, probes that disagree, a clock that nobody set and a
// disk that is full.
func plagued() *model.Snapshot {
	snap := annex()
	o := snap.Outlook
	o.Molds = append(o.Molds, keystone(), tablet())
	o.Places[0].OffProbe, o.Places[0].OffK = "board", -2.14
	o.Probes = append(o.Probes, model.ProbeOutlook{Name: "board", Place: "bench", Last: thursday().Add(-2 * time.Minute), Every: time.Minute, TempC: 16.4, Humidity: 0.57},
		model.ProbeOutlook{Name: "rafter", Place: "bench", Last: hm(0, 11, 2), Every: time.Minute, Silent: true, TempC: 12.9, Humidity: 0.7})
	snap.Health.ClockTrusted = false
	snap.Health.Journal = model.JournalHealth{LastSync: hm(0, 19, 21), Waiting: 44, Readings: 60000, Marks: 21, Err: "make readings safe: no space left on device"}
	return snap
}
