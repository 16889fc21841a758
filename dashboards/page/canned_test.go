package page

import (
	"context"
	"flag"
	"fmt"
	"math"
	"net/http"
	"os"
	"testing"
	"time"
	_ "time/tzdata" // the tests do not depend on the machine's zones

	"pourward/model"
	"pourward/model/material"
	"pourward/sensors"
)

var serveAt = flag.String("serve", "", "serve the canned shop at this address instead of testing, to look at it")

func TestMain(m *testing.M) {
	flag.Parse()
	if *serveAt != "" {
		fmt.Println(http.ListenAndServe(*serveAt, New(cannedOptions(annex()))))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// berlin is where the canned shop stands.
func berlin() *time.Location {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		panic(err)
	}
	return zone
}

// thursday is the instant of the canned outlooks: Thu 27 Nov 2025 19:32:10 in the shop.
func thursday() time.Time { return time.Date(2025, 11, 27, 18, 32, 10, 0, time.UTC) }

// hm is a time on the canned Thursday, or days after it.
func hm(days, hour, minute int) time.Time {
	return time.Date(2025, 11, 27+days, hour, minute, 0, 0, berlin()).UTC()
}

func cannedOptions(snap *model.Snapshot) Options {
	next := int64(100)
	return Options{
		Snapshot: func() *model.Snapshot { return snap },
		Record: func(_ context.Context, m model.Mark) (model.Mark, error) {
			next++
			m.ID = next
			return m, nil
		},
		Trace: cannedTrace,
		Alerts: func() []Alert {
			return []Alert{
				{Name: "ProbeSilent", Severity: "warning", Summary: "The probe at shelf is silent.", Description: "Look at its cable and power.", Since: hm(0, 16, 8)},
				{Name: "PatchTacky", Severity: "critical", Summary: "Volute: the surface inhibits.", Since: hm(0, 17, 2)},
			}
		},
		Shelf: material.Generic(), Hosts: []string{"shop.test"}, Zone: berlin(), Places: []string{"bench", "pattern", "warm box"},
		Now: thursday, ShopName: "Museum annex",
	}
}

// cannedTrace is an unheated annex: a daily swing, ten-minute steps, two hours without the probe, and
// a humidity that fails for longer. The probe on the pattern measures no humidity.
func cannedTrace(_ context.Context, probe string, from, to time.Time) ([]Point, error) {
	var out []Point
	for t := from.Truncate(10 * time.Minute).Add(10 * time.Minute); t.Before(to); t = t.Add(10 * time.Minute) {
		h := t.Sub(hm(0, 0, 0)).Hours()
		if day := math.Mod(h+240, 24); day > 9 && day < 11 {
			continue
		}
		p := Point{At: t, TempC: 12.9 + 2.6*math.Sin((h-9)/24*2*math.Pi) + 0.3*math.Sin(h*1.7), Humidity: 0.66 - 0.09*math.Sin((h-9)/24*2*math.Pi)}
		if day := math.Mod(h+240, 24); day > 3 && day < 5 {
			p.Humidity = math.NaN()
		}
		switch probe {
		case "rubber-foil":
			p.TempC, p.Humidity = p.TempC-0.8, math.NaN()
		case "box":
			p.TempC = 22.5 + 0.4*math.Sin(h*3)
		}
		out = append(out, p)
	}
	return out, nil
}

// cannedAhead goes on from a temperature for three days: colder at night, less and less sure.
func cannedAhead(tempC float64) []model.Reach {
	var out []model.Reach
	for k := range 73 {
		at := thursday().Add(time.Duration(k)*time.Hour - 20*time.Second)
		day := func(t time.Time) float64 { return 2.6 * math.Sin((t.Sub(hm(0, 0, 0)).Hours()-9)/24*2*math.Pi) }
		likely, wide := tempC+day(at)-day(thursday()), 2.2*math.Sqrt(1-math.Exp(-float64(k)/12))
		out = append(out, model.Reach{At: at, LowC: likely - wide, LikelyC: likely, HighC: likely + 0.8*wide})
	}
	return out
}

func band(earliest, likely, latest time.Time) model.Band {
	return model.Band{Earliest: earliest, Likely: likely, Latest: latest}
}

// annex is an unheated museum annex with molds at every stage.
func annex() *model.Snapshot {
	o := &model.Outlook{At: thursday().Add(-5 * time.Second)}
	o.Places = []model.PlaceOutlook{
		{Name: "bench", Probe: "air-1", Known: true, At: thursday().Add(-20 * time.Second), TempC: 14.2, Humidity: 0.68, DewPointC: 8.36, PourMinC: 18, PourMaxC: 32,
			Pour: model.Fitness{Verdict: model.NotFit, Reasons: []model.Reason{{Code: model.ReasonCold, Text: "The air is too cold: the cure drags and mild contaminants begin to inhibit."}}}},
		{Name: "pattern", Probe: "rubber-foil", Known: true, At: thursday().Add(-20 * time.Second), TempC: 13.4, Humidity: math.NaN(), DewPointC: math.NaN(), PourMinC: 18, PourMaxC: 32,
			Pour: model.Fitness{Verdict: model.NotFit, Reasons: []model.Reason{{Code: model.ReasonCold, Text: "The air is too cold: the cure drags and mild contaminants begin to inhibit."}}}},
		{Name: "warm box", Probe: "box", Known: true, At: thursday().Add(-20 * time.Second), TempC: 22.8, Humidity: 0.41, DewPointC: 8.9, PourMinC: 18, PourMaxC: 32,
			Pour: model.Fitness{Verdict: model.Fit}},
		{Name: "shelf", Probe: "shelf-1", TempC: 15.1, At: hm(0, 16, 5), Humidity: 0.6, DewPointC: math.NaN(), PourMinC: 18, PourMaxC: 32,
			Pour: model.Fitness{Verdict: model.FitCannot, Reasons: []model.Reason{{Code: model.ReasonNoAir, Text: "No trusted reading of the air at shelf: look at the probe."}}}},
	}
	o.Places[0].Ahead, o.Places[1].Ahead, o.Places[2].Ahead = cannedAhead(14.2), cannedAhead(13.4), cannedAhead(22.8)
	o.Probes = []model.ProbeOutlook{
		{Name: "air-1", Place: "bench", Last: thursday().Add(-20 * time.Second), Every: 10 * time.Minute, TempC: 14.2, Humidity: 0.68},
		{Name: "rubber-foil", Place: "pattern", Last: thursday().Add(-20 * time.Second), Every: 10 * time.Minute, TempC: 13.4, Humidity: math.NaN()},
		{Name: "box", Place: "warm box", Last: thursday().Add(-20 * time.Second), Every: 10 * time.Minute, TempC: 22.8, Humidity: 0.41},
		{Name: "shelf-1", Place: "shelf", Last: hm(0, 16, 5), Every: time.Minute, Silent: true, TempC: 15.1, Humidity: 0.6},
	}
	o.Molds = []model.MoldOutlook{coating(), curing(), inCup(), unsaid(), poisoned(), done()}
	return &model.Snapshot{Outlook: o, Health: model.Health{
		Started: hm(-2, 8, 0),
		Probes: []model.ProbeHealth{{Name: "air-1", Reads: 20000}, {Name: "shelf-1", Reads: 19000, LastError: "read probe shelf-1: no-response",
			Faults: map[sensors.Fault]uint64{sensors.NoResponse: 207}}},
		Journal:      model.JournalHealth{LastSync: thursday().Add(-10 * time.Second), Readings: 60000, Marks: 21},
		ClockTrusted: true,
	}}
}

func sourcesOf(name string) (cautions, sources []string) {
	m, err := material.Generic().Find(name)
	if err != nil {
		panic(err)
	}
	if m.Cures() {
		return m.Cautions, []string{"reference time: " + m.Demold.Source.String(), "activation energy: " + m.Demold.EaFrom.String(), "lowest temperatures: " + m.DoubtFrom.String()}
	}
	return m.Cautions, []string{"dry time: " + m.Coat.Source.String()}
}

func cannedStep(id int64, kind model.StepKind, name, title, of string, begun, ended time.Time, p model.Projection) model.Step {
	s := model.Step{Mark: id, Kind: kind, Name: name, Title: title, Material: of, Begun: begun, Ended: ended, Projection: p}
	s.Cautions, s.Sources = sourcesOf(of)
	return s
}

// coating: the second coat dries in the cold.
func coating() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "frieze-left", Title: "Frieze, left end", Place: "bench", Surface: "pattern", Rubber: "platinum-slow", Begun: hm(0, 9, 10),
		Steps: []model.Step{
			cannedStep(2, model.CoatDry, "coat-1", "Seal coat 1", "shellac", hm(0, 12, 20), hm(0, 16, 40), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 13, 20), hm(0, 13, 55), hm(0, 14, 50)), Share: 1, RoomTime: 45 * time.Minute}),
			cannedStep(3, model.CoatDry, "coat-2", "Seal coat 2", "shellac", hm(0, 16, 40), time.Time{}, model.Projection{
				Standing: model.Maybe, Band: band(hm(0, 18, 12), hm(0, 19, 3), hm(0, 20, 24)), Share: 0.93, RoomTime: 45 * time.Minute,
				Why: []string{"no readings for 6 min of the time"}}),
		},
		Pour: model.Fitness{Verdict: model.NotFit, Reasons: []model.Reason{
			{Code: model.ReasonCold, Text: "The air is too cold: the cure drags and mild contaminants begin to inhibit."},
			{Code: model.ReasonCoat, Text: "Seal coat 2 is not dry for certain."},
			{Code: model.ReasonPatch, Caution: true, Text: "No test patch on this surface was found firm: no list of poisons is complete, so test first."}},
			From: hm(1, 10, 12), Warmer: &model.Warmer{TempC: 22, From: hm(0, 19, 51)}},
		Next: "Let seal coat 2 dry.", NextAt: hm(0, 20, 24),
		Marks: []model.Mark{
			{ID: 1, Kind: model.Begun, Mold: "frieze-left", At: hm(0, 9, 10), Entered: hm(0, 9, 10), Title: "Frieze, left end", Place: "bench", Surface: "pattern", Material: "platinum-slow"},
			{ID: 2, Kind: model.CoatOn, Mold: "frieze-left", At: hm(0, 12, 20), Entered: hm(0, 12, 41), Material: "shellac", Note: "thin, two passes"},
			{ID: 3, Kind: model.CoatOn, Mold: "frieze-left", At: hm(0, 16, 40), Entered: hm(0, 16, 40), Material: "shellac"},
		},
	}
}

// curing: poured, the night is long.
func curing() model.MoldOutlook {
	m := model.MoldOutlook{
		Name: "rosette", Title: "Rosette", Place: "bench", Surface: "pattern", Rubber: "platinum-slow", Begun: hm(-1, 9, 0), Poured: true,
		Steps: []model.Step{
			cannedStep(5, model.CoatDry, "coat-1", "Seal coat 1", "shellac", hm(0, 7, 30), hm(0, 10, 20), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 8, 30), hm(0, 9, 0), hm(0, 9, 50)), Share: 1, RoomTime: 45 * time.Minute}),
			cannedStep(6, model.CoatDry, "coat-2", "Seal coat 2", "shellac", hm(0, 10, 20), hm(0, 12, 50), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 11, 5), hm(0, 11, 40), hm(0, 12, 30)), Share: 1, RoomTime: 45 * time.Minute}),
			cannedStep(7, model.ReleaseDry, "release", "Release agent", "wax-naphtha", hm(0, 12, 50), hm(0, 14, 5), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 13, 20), hm(0, 13, 35), hm(0, 14, 0)), Share: 1, RoomTime: 25 * time.Minute}),
			cannedStep(8, model.WorkingLife, "batch-1", "Batch 1 in the cup", "platinum-slow", hm(0, 14, 5), hm(0, 14, 32), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 14, 45), hm(0, 15, 0), hm(0, 15, 20)), Share: 0.6, RoomTime: 30 * time.Minute}),
			cannedStep(9, model.DemoldTime, "cure", "Cure", "platinum-slow", hm(0, 14, 32), time.Time{}, model.Projection{
				Standing: model.Running, Band: band(hm(0, 20, 33), hm(0, 21, 38), hm(1, 0, 7)), Share: 0.68, RoomTime: 4 * time.Hour}),
		},
		Doubt: waiting(), Next: "Let it cure.", NextAt: hm(1, 0, 7),
	}
	m.Marks = []model.Mark{
		{ID: 4, Kind: model.Begun, Mold: "rosette", At: hm(-1, 9, 0), Entered: hm(-1, 9, 0), Title: "Rosette", Place: "bench", Surface: "pattern", Material: "platinum-slow",
			Build: model.Build{RubberMM: 12.5, Pattern: "plaster", PatternMM: 60, Shell: "wood", ShellMM: 18}},
		{ID: 5, Kind: model.CoatOn, Mold: "rosette", At: hm(0, 7, 30), Entered: hm(0, 7, 30), Material: "shellac"},
		{ID: 6, Kind: model.CoatOn, Mold: "rosette", At: hm(0, 10, 20), Entered: hm(0, 10, 20), Material: "shellac"},
		{ID: 7, Kind: model.ReleaseOn, Mold: "rosette", At: hm(0, 12, 50), Entered: hm(0, 12, 50), Material: "wax-naphtha"},
		{ID: 8, Kind: model.Mixed, Mold: "rosette", At: hm(0, 14, 5), Entered: hm(0, 14, 5), Material: "platinum-slow"},
		{ID: 9, Kind: model.Poured, Mold: "rosette", At: hm(0, 14, 32), Entered: hm(0, 14, 32)},
		{ID: 10, Kind: model.Checked, Mold: "rosette", At: hm(0, 18, 0), Entered: hm(0, 18, 0), Of: model.Cup, Found: model.Tacky},
	}
	return m
}

// inCup: a batch is mixed and its working life runs.
func inCup() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "corner", Title: "Corner block with the egg-and-dart", Place: "warm box", Rubber: "platinum-slow", Begun: hm(0, 8, 0),
		Steps: []model.Step{
			cannedStep(12, model.CoatDry, "coat-1", "Seal coat 1", "lacquer", hm(0, 15, 30), hm(0, 17, 45), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 16, 15), hm(0, 16, 35), hm(0, 17, 0)), Share: 1, RoomTime: time.Hour}),
			cannedStep(13, model.ReleaseDry, "release", "Release agent", "wax-naphtha", hm(0, 17, 45), hm(0, 19, 12), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 18, 3), hm(0, 18, 10), hm(0, 18, 20)), Share: 1, RoomTime: 25 * time.Minute}),
			cannedStep(14, model.WorkingLife, "batch-1", "Batch 1 in the cup", "platinum-slow", hm(0, 19, 12), time.Time{}, model.Projection{
				Standing: model.Running, Band: band(hm(0, 19, 41), hm(0, 19, 47), hm(0, 19, 55)), Share: 0.58, RoomTime: 30 * time.Minute}),
		},
		Pour: model.Fitness{Verdict: model.Fit, Reasons: []model.Reason{
			{Code: model.ReasonUnprobed, Caution: true, Text: "No probe sits on the pattern: a cold pattern in warm air may be wet with dew unseen."}}},
		Next: "Pour before the working life ends.", NextAt: hm(0, 19, 41),
		Marks: []model.Mark{
			{ID: 11, Kind: model.Begun, Mold: "corner", At: hm(0, 8, 0), Entered: hm(0, 8, 0), Place: "warm box", Material: "platinum-slow"},
			{ID: 12, Kind: model.CoatOn, Mold: "corner", At: hm(0, 15, 30), Entered: hm(0, 15, 30), Material: "lacquer"},
			{ID: 13, Kind: model.ReleaseOn, Mold: "corner", At: hm(0, 17, 45), Entered: hm(0, 17, 45), Material: "wax-naphtha"},
			{ID: 14, Kind: model.Mixed, Mold: "corner", At: hm(0, 19, 12), Entered: hm(0, 19, 12), Material: "platinum-slow", Corrects: 13},
		},
	}
}

// unsaid: below the floor of the material; only a bound can be told.
func unsaid() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "bracket", Title: "Bracket", Place: "bench", Rubber: "polyurethane-rubber", Begun: hm(0, 10, 0), Poured: true,
		Steps: []model.Step{
			cannedStep(16, model.WorkingLife, "batch-1", "Batch 1 in the cup", "polyurethane-rubber", hm(0, 11, 0), hm(0, 11, 14), model.Projection{
				Standing: model.Closed, RoomTime: 15 * time.Minute}),
			cannedStep(17, model.DemoldTime, "cure", "Cure", "polyurethane-rubber", hm(0, 11, 14), time.Time{}, model.Projection{
				Standing: model.CannotSay, NotBefore: hm(1, 21, 40), Share: 0.2, RoomTime: 16 * time.Hour,
				Why: []string{"at this temperature the end is too far to tell, or never: warm the place"}}),
		},
		Next: "Go by the cup: the demold time cannot be told.", NextAt: hm(1, 21, 40),
		Marks: []model.Mark{
			{ID: 15, Kind: model.Begun, Mold: "bracket", At: hm(0, 10, 0), Entered: hm(0, 10, 0), Title: "Bracket", Place: "bench", Material: "polyurethane-rubber"},
			{ID: 16, Kind: model.Mixed, Mold: "bracket", At: hm(0, 11, 0), Entered: hm(0, 11, 0)},
			{ID: 17, Kind: model.Poured, Mold: "bracket", At: hm(0, 11, 14), Entered: hm(0, 11, 14)},
		},
	}
}

// poisoned: found tacky past its time.
func poisoned() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "volute", Title: "Volute", Place: "warm box", Rubber: "platinum-fast", Begun: hm(0, 9, 0), Poured: true,
		Steps: []model.Step{
			cannedStep(19, model.WorkingLife, "batch-1", "Batch 1 in the cup", "platinum-fast", hm(0, 15, 0), hm(0, 15, 4), model.Projection{
				Standing: model.Closed, Band: band(hm(0, 15, 5), hm(0, 15, 6), hm(0, 15, 8)), RoomTime: 6 * time.Minute}),
			cannedStep(20, model.DemoldTime, "cure", "Cure", "platinum-fast", hm(0, 15, 4), time.Time{}, model.Projection{
				Standing: model.Doubtful, Band: band(hm(0, 15, 38), hm(0, 15, 46), hm(0, 15, 58)), Share: 1, RoomTime: 40 * time.Minute,
				Why: []string{inhibited().Says}}),
		},
		Doubt: inhibited(), Next: "Do not demold or pour more: " + inhibited().Says,
		Marks: []model.Mark{
			{ID: 18, Kind: model.Begun, Mold: "volute", At: hm(0, 9, 0), Entered: hm(0, 9, 0), Title: "Volute", Place: "warm box", Material: "platinum-fast"},
			{ID: 19, Kind: model.Mixed, Mold: "volute", At: hm(0, 15, 0), Entered: hm(0, 15, 0)},
			{ID: 20, Kind: model.Poured, Mold: "volute", At: hm(0, 15, 4), Entered: hm(0, 15, 4)},
			{ID: 23, Kind: model.Checked, Mold: "volute", At: hm(0, 16, 2), Entered: hm(0, 16, 2), Of: model.Cup, Found: model.Firm},
			{ID: 24, Kind: model.Checked, Mold: "volute", At: hm(0, 16, 40), Entered: hm(0, 16, 41), Of: model.Patch, Found: model.Tacky},
			{ID: 25, Kind: model.Checked, Mold: "volute", At: hm(0, 17, 2), Entered: hm(0, 17, 2), Of: model.Mold, Found: model.Spoiled, Note: "gummy where it met the clay"},
		},
	}
}

// done: demolded yesterday.
func done() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "finial", Title: "Finial", Place: "warm box", Rubber: "platinum-slow", Begun: hm(-3, 9, 0), Demolded: hm(-1, 11, 30), Poured: true,
		Steps: []model.Step{cannedStep(22, model.DemoldTime, "cure", "Cure", "platinum-slow", hm(-2, 17, 0), hm(-1, 11, 30), model.Projection{
			Standing: model.Closed, Band: band(hm(-2, 20, 30), hm(-2, 21, 10), hm(-2, 22, 0)), Share: 1, RoomTime: 4 * time.Hour})},
		Next: "Done.",
		Marks: []model.Mark{
			{ID: 21, Kind: model.Begun, Mold: "finial", At: hm(-3, 9, 0), Entered: hm(-3, 9, 0), Title: "Finial", Place: "warm box", Material: "platinum-slow"},
			{ID: 22, Kind: model.Poured, Mold: "finial", At: hm(-2, 17, 0), Entered: hm(-2, 17, 0)},
		},
	}
}
