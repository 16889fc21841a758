package alerts_test

import (
	"time"

	"pourward/alerts"
	"pourward/model"
)

// begin is when the invented shop days begin, a winter Thursday.
var begin = time.Date(2026, 1, 15, 8, 0, 0, 0, time.UTC)

func after(d time.Duration) time.Time { return begin.Add(d) }

// quietShop is a shop in which nothing is wrong: an open mold on a warm bench, one probe, a record that
// is safe.
func quietShop(at time.Time) *model.Snapshot {
	return &model.Snapshot{
		Outlook: &model.Outlook{
			At:     at,
			Places: []model.PlaceOutlook{{Name: "bench", Known: true, TempC: 21, PourMinC: 18, PourMaxC: 32}},
			Probes: []model.ProbeOutlook{{Name: "bench-air", Place: "bench", Last: at}},
			Molds:  []model.MoldOutlook{{Name: "cornice", Place: "bench", Begun: begin}},
		},
		Health: model.Health{Started: begin.Add(-time.Hour), Journal: model.JournalHealth{LastSync: at}, ClockTrusted: true},
	}
}

// with puts a step on the mold of s.
func with(s *model.Snapshot, kind model.StepKind, standing model.Standing) *model.Snapshot {
	m := &s.Outlook.Molds[0]
	band := model.Band{Earliest: after(time.Hour), Likely: after(2 * time.Hour), Latest: after(3 * time.Hour)}
	m.Steps = append(m.Steps, model.Step{Kind: kind, Name: string(kind) + "-1", Projection: model.Projection{Standing: standing, Band: band}})
	return s
}

// minutes steps e through some minutes of a shop that change alters, and returns what fires at the end.
func minutes(e *alerts.Evaluator, from, to int, change func(*model.Snapshot)) []alerts.Alert {
	for i := from; i < to; i++ {
		s := quietShop(after(time.Duration(i) * time.Minute))
		change(s)
		e.Step(s)
	}
	return e.Active()
}
