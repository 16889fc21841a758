package metrics_test

import (
	"math"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// at is an instant of the invented day in the annex, a winter Thursday, UTC.
func at(hour, minute int) time.Time { return time.Date(2026, 1, 15, hour, minute, 0, 0, time.UTC) }

// annex is a snapshot of an unheated annex where a museum workshop molds a plaster frieze: one mold
// cures, one waits for its second coat, one is demolded and must not show.
func annex() *model.Snapshot {
	patches, trials := annexPatches()
	return &model.Snapshot{
		Outlook: &model.Outlook{
			At:      at(15, 30),
			Places:  annexPlaces(),
			Probes:  annexProbes(),
			Molds:   []model.MoldOutlook{oldMold(), cornice(), metope()},
			Patches: patches,
			Trials:  trials,
		},
		Health: annexHealth(),
	}
}

func annexPlaces() []model.PlaceOutlook {
	return []model.PlaceOutlook{
		{
			Name: "bench", Probe: "bench-air", OffProbe: "bench-low", OffK: 1.75, Known: true, At: at(15, 29), TempC: 16.25, Humidity: 0.62, DewPointC: 8.95,
			Pour: model.Fitness{Verdict: model.NotFit, Reasons: []model.Reason{{Code: model.ReasonCold}}}, PourMinC: 18, PourMaxC: 32,
			HeatedOff: true, Ahead: coldNight(), Skill: judged(),
		},
		{
			Name: "pattern", Probe: "pattern-skin", Known: true, At: at(15, 29), TempC: 15.5, Humidity: math.NaN(), DewPointC: math.NaN(),
			Pour: model.Fitness{Verdict: model.NotFit}, PourMinC: 18, PourMaxC: 32,
		},
		{
			Name: "shelf", Probe: "shelf-air", At: at(9, 0), TempC: 17, Humidity: 0.5, DewPointC: 6.5,
			Pour: model.Fitness{Verdict: model.FitCannot, Reasons: []model.Reason{{Code: model.ReasonNoAir}}}, PourMinC: 18, PourMaxC: 32,
		},
	}
}

// coldNight falls by half a kelvin an hour until the next morning, and goes on so for the two days after.
func coldNight() []model.Reach {
	var out []model.Reach
	for hour := range 73 {
		c := 16.25 - 0.5*float64(hour)
		out = append(out, model.Reach{At: at(15, 29).Add(time.Duration(hour) * time.Hour), LowC: c - 2, LikelyC: c, HighC: c + 2})
	}
	return out
}

func annexProbes() []model.ProbeOutlook {
	return []model.ProbeOutlook{
		{Name: "bench-air", Place: "bench", Last: at(15, 29), Every: 10 * time.Second, TempC: 16.25, Humidity: 0.62},
		{Name: "bench-low", Place: "bench", Last: at(15, 29), Every: 10 * time.Second, TempC: 14.5, Humidity: math.NaN()},
		{Name: "pattern-skin", Place: "pattern", Last: at(15, 29), Every: 30 * time.Second, TempC: 15.5, Humidity: math.NaN()},
		{Name: "shelf-air", Place: "shelf", Last: at(9, 0), Every: 10 * time.Second, Silent: true, TempC: 17, Humidity: 0.5},
		{Name: "spare", Place: "shelf", Every: time.Minute, Silent: true, TempC: math.NaN(), Humidity: math.NaN()},
	}
}

func annexHealth() model.Health {
	return model.Health{
		ClockTrusted: true,
		Refused:      map[string]uint64{"malformed": 2},
		Started:      at(8, 0),
		Probes: []model.ProbeHealth{
			{Name: "bench-air", Reads: 2695, Faults: map[sensors.Fault]uint64{sensors.BadChecksum: 2}},
			{Name: "bench-low", Reads: 2695},
			{Name: "pattern-skin", Reads: 900, Faults: map[sensors.Fault]uint64{sensors.PowerOn: 1}},
			{Name: "shelf-air", Reads: 2695, Faults: map[sensors.Fault]uint64{sensors.NoResponse: 2335}, LastError: "read shelf-air: no-response"},
			{Name: "spare", Reads: 450, Faults: map[sensors.Fault]uint64{sensors.NoResponse: 450}, LastError: "read spare: no-response"},
		},
		Journal: model.JournalHealth{LastSync: at(15, 29), Waiting: 7, Readings: 3950, Marks: 9},
		Delivery: []model.DeliveryHealth{
			{Target: "house", Channel: "alertmanager", Sent: 6},
			{Target: "maker", Channel: "mail", Waiting: 2, Held: 1, Oldest: 5 * time.Minute, Sent: 3, Failed: 4, Given: 1, Err: "connection refused"},
		},
	}
}

// oldMold came off this morning.
func oldMold() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "egg-dart", Title: "Egg and dart", Place: "bench", Rubber: "platinum silicone", Begun: at(0, 0), Demolded: at(9, 30), Poured: true,
		Steps: []model.Step{{Kind: model.DemoldTime, Name: "cure", Begun: at(1, 0), Projection: model.Projection{Standing: model.Closed}}},
	}
}

// cornice is poured and cures; cup and patch were touched at half past two.
func cornice() model.MoldOutlook {
	return model.MoldOutlook{
		Doubt: &model.Doubt{
			Verdict: "wait", NothingWrong: 0.8125, SurfaceInhibits: 0.0625, BatchBad: 0.0625, BothWrong: 0.03125, OnlyCup: 0.03125,
			Next: "Touch the patch.", NextAt: at(18, 10),
		},
		Marks: []model.Mark{
			{Kind: model.Checked, Of: model.Coat, Found: model.Firm, At: at(10, 50)},
			{Kind: model.Checked, Of: model.Cup, Found: model.Tacky, At: at(14, 29)},
			{Kind: model.Checked, Of: model.Patch, Found: model.Tacky, At: at(14, 30)},
		},
		Name: "cornice", Title: "Cornice, left half", Place: "bench", Surface: "pattern", Rubber: "platinum silicone", Begun: at(8, 30), Poured: true,
		Steps: []model.Step{
			{
				Kind: model.CoatDry, Name: "coat-1", Title: "First coat", Material: "shellac", Begun: at(8, 45), Ended: at(11, 0),
				Projection: model.Projection{
					Standing: model.Closed, Share: 1, RoomTime: time.Hour,
					Band: model.Band{Earliest: at(9, 50), Likely: at(10, 10), Latest: at(10, 40)},
				},
			},
			{
				Kind: model.WorkingLife, Name: "batch-1", Title: "Batch", Material: "platinum silicone", Begun: at(11, 0), Ended: at(11, 20),
				Projection: model.Projection{Standing: model.Closed, RoomTime: 40 * time.Minute},
			},
			{
				Kind: model.DemoldTime, Name: "cure", Title: "Cure", Material: "platinum silicone", Begun: at(11, 20),
				Projection: model.Projection{
					Standing: model.Maybe, Share: 0.875, RoomTime: 4 * time.Hour,
					Band: model.Band{Earliest: at(15, 10), Likely: at(16, 5), Latest: at(17, 20)},
				},
			},
		},
	}
}

// metope has a coat on whose drying cannot be told: the air is too damp.
func metope() model.MoldOutlook {
	return model.MoldOutlook{
		Name: "metope", Title: "Metope \"B\"", Place: "bench", Rubber: "platinum silicone", Begun: at(14, 0),
		Pour: model.Fitness{Verdict: model.NotFit, Reasons: []model.Reason{
			{Code: model.ReasonCold}, {Code: model.ReasonCoat}, {Code: model.ReasonUnprobed, Caution: true},
		}, From: at(19, 5), Warmer: &model.Warmer{TempC: 22, From: at(16, 20)}},
		Steps: []model.Step{{
			Kind: model.CoatDry, Name: "coat-1", Title: "First coat", Material: "acrylic sealer", Begun: at(14, 15),
			Projection: model.Projection{Standing: model.CannotSay, NotBefore: at(16, 0), Share: 0.25, RoomTime: 2 * time.Hour},
		}},
	}
}

// judged is a forecast of twelve days' record.
func judged() model.ForecastSkill {
	return model.ForecastSkill{Days: 12, Errors: []model.LeadError{{Hours: 1, ErrorK: 0.3}, {Hours: 6, ErrorK: 0.9}, {Hours: 24, ErrorK: 1.4}, {Hours: 72, ErrorK: 1.8}}}
}
