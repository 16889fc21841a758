package page

import (
	"context"
	"fmt"
	"math"
	"time"

	"pourward/model"
	"pourward/model/report"
)

// cannedReport is the record of a mold of which everything is told that may be: late marks, corrections,
// what was withdrawn, what could not be said, weights, and an hour without readings.
func cannedReport(_ context.Context, name string) (*report.Report, error) {
	if name != "finial" {
		return nil, fmt.Errorf("report of %q: %w", name, report.ErrNoMold)
	}
	m := done()
	begun := model.Mark{
		ID: 21, Kind: model.Begun, Mold: "finial", At: hm(-3, 9, 0), Entered: hm(-3, 9, 0), Title: "Finial <north>", Place: "warm box", Material: "platinum-slow",
		Build: model.Build{Pattern: "plaster", PatternMM: 40, RubberMM: 12}, Design: model.Design{Method: model.Block}, Face: "sealed plaster",
	}
	coat := model.Mark{ID: 22, Kind: model.CoatOn, Mold: "finial", At: hm(-3, 9, 20), Entered: hm(-3, 10, 0), Material: "lacquer"}
	right := model.Mark{ID: 23, Kind: model.CoatOn, Mold: "finial", At: hm(-3, 9, 30), Entered: hm(-3, 10, 5), Material: "shellac", Corrects: 22, Note: "it was shellac & not \"lacquer\""}
	slip := model.Mark{ID: 24, Kind: model.CoatOn, Mold: "finial", At: hm(-3, 11, 0), Entered: hm(-3, 11, 0), Material: "shellac"}
	never := model.Mark{ID: 25, Kind: model.Withdrawn, Mold: "finial", At: hm(-3, 11, 1), Entered: hm(-3, 11, 1), Corrects: 24}
	mixed := model.Mark{ID: 26, Kind: model.Mixed, Mold: "finial", At: hm(-2, 16, 50), Entered: hm(-2, 16, 50), Batch: model.Batch{
		Parts: []model.Portion{{Name: "A", Grams: 400}, {Name: "B", Grams: 40}}, Lot: "K-17", From: "shelf"}}
	poured := model.Mark{ID: 27, Kind: model.Poured, Mold: "finial", At: hm(-2, 17, 0), Entered: hm(-2, 17, 1)}
	off := model.Mark{ID: 28, Kind: model.Demolded, Mold: "finial", At: hm(-1, 11, 30), Entered: hm(-1, 11, 30)}
	m.Title, m.Marks = begun.Title, []model.Mark{begun, right, mixed, poured, off}
	m.Steps = []model.Step{
		cannedStep(23, model.CoatDry, "coat-1", "Seal coat 1", "shellac", right.At, mixed.At, model.Projection{Standing: model.Closed, Band: band(hm(-3, 10, 10), hm(-3, 10, 25), hm(-3, 10, 50)), Share: 1, RoomTime: 45 * time.Minute}),
		cannedStep(26, model.WorkingLife, "batch-1", "Batch 1 in the cup", "platinum-slow", mixed.At, poured.At, model.Projection{Standing: model.Closed, Share: 0.28, RoomTime: 30 * time.Minute}),
		cannedStep(27, model.DemoldTime, "cure", "Cure", "platinum-slow", poured.At, off.At, model.Projection{Standing: model.Closed, Band: band(hm(-2, 20, 30), hm(-2, 21, 10), hm(-2, 22, 0)), Share: 1, RoomTime: 4 * time.Hour}),
	}
	r := &report.Report{At: hm(-1, 12, 30), Mold: m, Begun: begun, Felt: cannedFelt(m.Begun, m.Demolded)}
	for i, st := range m.Steps {
		r.Steps = append(r.Steps, report.Step{Step: st, Warmth: report.Warmth{MinC: 17.25 - float64(i), MeanC: 19.5, MaxC: 22, Measured: 2 * time.Hour, Missing: time.Duration(i) * 30 * time.Minute}})
	}
	r.Steps[1].Warmth = report.Warmth{MinC: math.NaN(), MeanC: math.NaN(), MaxC: math.NaN(), Missing: 10 * time.Minute}
	was := m.Steps[0]
	was.Mark, was.Material, was.Begun, was.Ended, was.Standing, was.Band = 22, "lacquer", coat.At, time.Time{}, model.Running, band(hm(-3, 10, 20), hm(-3, 10, 40), hm(-3, 11, 10))
	extra := was
	extra.Mark, extra.Title, extra.Begun, extra.Band = 24, "Seal coat 2", slip.At, band(hm(-3, 11, 30), hm(-3, 11, 45), hm(-3, 12, 10))
	cup := m.Steps[1]
	cup.Ended, cup.Standing, cup.Why = time.Time{}, model.CannotSay, []string{"probe warm-box is silent"}
	cure := m.Steps[2]
	cure.Ended, cure.Standing, cure.Band = time.Time{}, model.Running, band(hm(-2, 20, 15), hm(-2, 20, 45), hm(-2, 21, 55))
	r.Told = []report.Told{
		{Mark: coat, Step: was, Came: &r.Steps[0].Step}, {Mark: slip, Step: extra},
		{Mark: mixed, Step: cup, Came: &r.Steps[1].Step}, {Mark: poured, Step: cure, Came: &r.Steps[2].Step},
	}
	r.Marks = []report.Entry{
		{Mark: begun, State: report.InEffect}, {Mark: coat, State: report.Corrected, By: 23, Late: 40 * time.Minute},
		{Mark: right, State: report.InEffect, Late: 35 * time.Minute}, {Mark: slip, State: report.Withdrawn, By: 25},
		{Mark: never, State: report.InEffect}, {Mark: mixed, State: report.InEffect}, {Mark: poured, State: report.InEffect}, {Mark: off, State: report.InEffect},
	}
	r.Materials = []report.Material{
		{Name: "shellac", Title: "Sealer, resin in alcohol", Of: []string{"Seal coat 1"}, Sources: []string{"dry time: common practice, no source"}},
		{Name: "platinum-slow", Title: "Platinum-cure silicone, slow", Of: []string{"Batch 1 in the cup", "Cure"}, Sources: []string{"reference time: common practice, no source"}, Batches: []model.Batch{mixed.Batch}},
	}
	return r, nil
}

// cannedFelt is a warm box whose probe fails for an hour.
func cannedFelt(from, to time.Time) []model.Stretch {
	var out []model.Stretch
	tempC := func(t time.Time) float64 { return 21 + 2*math.Sin(t.Sub(from).Hours()/24*2*math.Pi) }
	for t := from; t.Before(to); t = t.Add(10 * time.Minute) {
		next := earlier(t.Add(10*time.Minute), to)
		out = append(out, model.Stretch{
			From: t, To: next, FromC: tempC(t), ToC: tempC(next), OnPattern: t.Hour()%2 == 0,
			NotMeasured: t.After(hm(-2, 18, 0)) && t.Before(hm(-2, 19, 0)),
		})
	}
	return out
}
