package material_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"pourward/model/material"
)

// sheet is a rubber with everything a data sheet may say.
func sheet(t testing.TB) material.Material {
	t.Helper()
	m := find(t, "platinum-slow")
	from := material.Source{Status: material.DataSheet, Text: "page 2"}
	m.Name, m.Title, m.RefC = "my-rubber", "My rubber", 23
	m.Second = material.SecondTime{TempC: 40, WorkingLife: 10 * time.Minute, Demold: time.Hour, RelSD: 0.1, Source: from}
	m.Mixing = material.Mixing{Parts: []material.Part{{"A", 10, 1.1, 1.5}, {"B", 1, 1, 1.5}}, Tolerance: 0.02, Source: from}
	m.Humidity = material.Humidities{Min: 0.2, Max: 0.8}
	m.Storage = material.Storage{ShelfLife: 365 * 24 * time.Hour, OpenedLife: 90 * 24 * time.Hour, Temp: material.Window{MinC: 10, MaxC: 27}, Source: from}
	m.Lots = []material.Lot{{Number: "L1", Made: date(2024, 3, 1), Opened: date(2024, 6, 1), Expiry: date(2025, 2, 1)}}
	return m
}

func date(year, month, day int) time.Time {
	return time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
}

// coat is a sealer with everything a data sheet may say.
func coat(t testing.TB) material.Material {
	t.Helper()
	m := find(t, "lacquer")
	m.Name = "my-sealer"
	m.Coat.RecoatFrom, m.Coat.RecoatUntil, m.Coat.FilmMicrometers = time.Hour, 24*time.Hour, 30
	return m
}

func TestWholeSheetsPass(t *testing.T) {
	require.NoError(t, sheet(t).Check())
	require.NoError(t, coat(t).Check())
}

type change = func(*material.Material)

// Each fault is one sentence that says what cannot be and what to do.
func TestFaults(t *testing.T) {
	nan := math.NaN()
	for want, c := range map[string]change{
		"Name: \"My Rubber\" is no short name; write 1 to 31 of a-z, 0-9 and -, not beginning with -":                                         func(m *material.Material) { m.Name = "My Rubber" },
		"Title: \" \" is no title; write one line for people to read":                                                                         func(m *material.Material) { m.Title = " " },
		"RefC: a reference temperature of 73 °C (163.4 °F) cannot be; give the one its times hold at, above 0 °C to 60 °C (140 °F), as 23 °C": func(m *material.Material) { m.RefC = 73 },
		"Cautions: what is mixed and cured has no caution; write what its safety data sheet asks for first":                                   func(m *material.Material) { m.Cautions = nil },
		"Cautions.0: a caution is blank; write what its safety data sheet asks for first":                                                     func(m *material.Material) { m.Cautions = []string{" "} },

		"WorkingLife.Ref: the working life of -1 min cannot be; give one above 0 to 60 d, or none": func(m *material.Material) { m.WorkingLife.Ref = -time.Minute },
		"Demold.Ref: the demold time of 4000 h cannot be; give one above 0 to 60 d, or none":       func(m *material.Material) { m.Demold.Ref = 4000 * time.Hour },
		"Demold.Ref: the working life of 30 min is not before the demold time of 20 min; compare both with the data sheet": func(m *material.Material) {
			m.Demold.Ref, m.Second.Demold = 20*time.Minute, 0
		},
		"Demold.Ref: neither working life nor demold time is stated; give at least one, with the temperature it holds at": func(m *material.Material) {
			m.Demold, m.WorkingLife, m.Second = material.Event{}, material.Event{}, material.SecondTime{}
		},
		"LayerLatest.Ref: the earliest time of the next layer of 5 h is not before the latest of 4 h; compare both with the data sheet": func(m *material.Material) {
			m.LayerEarliest.Ref = 5 * time.Hour
		},
		"Demold.LnSD: the spread of the demold time of NaN cannot be; give one from 0 to 2":                                                                                                       func(m *material.Material) { m.Demold.LnSD = nan },
		"Demold.EaJ: the activation energy of the demold time of -1 kJ/mol cannot be; give one from 0 kJ/mol to 300 kJ/mol":                                                                       func(m *material.Material) { m.Demold.EaJ = -1000 },
		"Demold.EaSDJ: the spread of the activation energy of the demold time of 400 kJ/mol cannot be; give one from 0 kJ/mol to 300 kJ/mol":                                                      func(m *material.Material) { m.Demold.EaSDJ = 400e3 },
		"Demold.Cov: a covariance of 5000 in the demold time is more than both spreads allow; give one within 2250, or 0":                                                                         func(m *material.Material) { m.Demold.Cov = 5000 },
		"Demold.Source: the demold time names no source; say where it is from, were it an assumption":                                                                                             func(m *material.Material) { m.Demold.Source = material.Source{} },
		"Demold.EaFrom: what temperature does to the demold time has a source of status \"hearsay\"; choose one of \"data sheet\", \"published\", \"common practice, no source\", \"assumption\"": func(m *material.Material) { m.Demold.EaFrom.Status = "hearsay" },

		"Known: the range its times are known for from 35 °C (95 °F) to 5 °C (41 °F) is no range; give the colder limit first":                                      func(m *material.Material) { m.Known = material.Window{MinC: 35, MaxC: 5} },
		"Known: its reference temperature of 23 °C (73.4 °F) is outside the range its times are known for; widen the range, or correct the temperature":             func(m *material.Material) { m.Known = material.Window{MinC: 25, MaxC: 35} },
		"FloorC: a floor of 30 °C (86 °F) leaves no cure at its reference temperature of 23 °C (73.4 °F); give the temperature below which it does not cure at all": func(m *material.Material) { m.FloorC, m.DoubtBelowC = 30, 0 },
		"FloorC: a floor of NaN °C (NaN °F) cannot be; give one from -20 °C (-4 °F) to 80 °C (176 °F)":                                                              func(m *material.Material) { m.FloorC = nan },
		"DoubtBelowC: its cure is doubtful below 2 °C (35.6 °F), which is under its floor of 5 °C (41 °F); give a temperature above the floor":                      func(m *material.Material) { m.FloorC, m.DoubtBelowC = 5, 2 },
		"DoubtBelowC: its cure is doubtful below 30 °C (86 °F), which is above its reference temperature of 23 °C (73.4 °F); correct one of them":                   func(m *material.Material) { m.DoubtBelowC = 30 },
		"Pour: a temperature to pour at of 90 °C (194 °F) cannot be; give one from -20 °C (-4 °F) to 80 °C (176 °F)":                                                func(m *material.Material) { m.Pour.MaxC = 90 },
		"PourFrom: the temperature to pour at names no source; say where it is from, were it an assumption":                                                         func(m *material.Material) { m.PourFrom = material.Source{} },

		"Second.Source: the times at a second temperature names no source; say where it is from, were it an assumption":                                                                       func(m *material.Material) { m.Second.Source = material.Source{} },
		"Second.RelSD: a relative spread of the sheet's times of 200 % cannot be; give one from 0 % to 100 %":                                                                                 func(m *material.Material) { m.Second.RelSD = 2 },
		"Second.TempC: 24 °C (75.2 °F) is too near 23 °C (73.4 °F) to tell what temperature does; give times at two temperatures at least 3 K apart, or none":                                 func(m *material.Material) { m.Second.TempC = 24 },
		"Second.TempC: a second temperature of NaN °C (NaN °F) cannot be; give one from -20 °C (-4 °F) to 200 °C (392 °F)":                                                                    func(m *material.Material) { m.Second.TempC = nan },
		"Second.Demold: a demold time of 4 h at 23 °C (73.4 °F) and 5 h at 40 °C (104 °F) is longer where it is warmer; swap the times or the temperatures":                                   func(m *material.Material) { m.Second.Demold = 5 * time.Hour },
		"Second.Demold: a demold time of 4 h at 23 °C (73.4 °F) and 5 s at 40 °C (104 °F) is too great a change: 361 kJ/mol; compare times, temperatures and their units with the data sheet": func(m *material.Material) { m.Second.Demold = 5 * time.Second },
		"Second.WorkingLife: there is a working life at 40 °C (104 °F) but none at the reference temperature; give both":                                                                      func(m *material.Material) { m.WorkingLife = material.Event{} },
		"Second.WorkingLife: a working life at a second temperature of -1 h cannot be; give one above 0 to 60 d, or none":                                                                     func(m *material.Material) { m.Second.WorkingLife = -time.Hour },

		"Mixing.Parts: a mix of one part has no ratio; name every part, or leave the mix out where it comes ready mixed":                        func(m *material.Material) { m.Mixing.Parts = m.Mixing.Parts[:1] },
		"Mixing.Parts.1.Name: a part is called \"A\"; give each part a name of its own, as its container has it":                                func(m *material.Material) { m.Mixing.Parts[1].Name = "A" },
		"Mixing.Parts.1.Ratio: 0 parts of \"B\" cannot be; give a number above 0, as the 10 and the 1 of 10:1":                                  func(m *material.Material) { m.Mixing.Parts[1].Ratio = 0 },
		"Mixing.Parts: a ratio of 5000 to 1 is beyond 1000 to 1; compare it with the data sheet":                                                func(m *material.Material) { m.Mixing.Parts[0].Ratio = 5000 },
		"Mixing.Parts.0.GramsPerML: a density of part \"A\" of 1100 g/mL cannot be; give one above 0 to 25 g/mL, or none":                       func(m *material.Material) { m.Mixing.Parts[0].GramsPerML = 1100 },
		"Mixing.Parts.0.GramsPerML: part \"A\" counts by volume and has no density; take it from the data sheet, or weigh a full measure of it": func(m *material.Material) { m.Mixing.ByVolume, m.Mixing.Parts[0].GramsPerML = true, 0 },
		"Mixing.Parts.1.JPerGramK: a specific heat of part \"B\" of 1500 J/(g K) cannot be; give one above 0 to 10 J/(g K), or none":            func(m *material.Material) { m.Mixing.Parts[1].JPerGramK = 1500 },
		"Mixing.Tolerance: a tolerance of the ratio of 200 % cannot be; give one above 0 %, below 100 %, or none":                               func(m *material.Material) { m.Mixing.Tolerance = 2 },
		"Mixing.Tolerance: a tolerance of the ratio is stated but no ratio; name the parts with their ratio, or leave the tolerance out":        func(m *material.Material) { m.Mixing.Parts = nil },
		"Mixing.Source: the mix ratio names no source; say where it is from, were it an assumption":                                             func(m *material.Material) { m.Mixing.Source = material.Source{} },

		"GramsPerML: a density of -1 g/mL cannot be; give one above 0 to 25 g/mL, or none":                                              func(m *material.Material) { m.GramsPerML = -1 },
		"DensityFrom: the density names no source; say where it is from, were it an assumption":                                         func(m *material.Material) { m.DensityFrom = material.Source{} },
		"Humidity.Max: relative humidity from 20 % to 10 % is no range; give the drier limit first":                                     func(m *material.Material) { m.Humidity.Max = 0.1 },
		"Humidity.Min: a lowest relative humidity of 5000 % cannot be; give one above 0 to 100 %, or none":                              func(m *material.Material) { m.Humidity.Min = 50 },
		"Storage.ShelfLife: a shelf life of -24 h cannot be; give one above 0 to 18250 d, or none":                                      func(m *material.Material) { m.Storage.ShelfLife = -24 * time.Hour },
		"Storage.OpenedLife: once opened it keeps for 400 d, longer than the 365 d of its shelf life; compare both with the data sheet": func(m *material.Material) { m.Storage.OpenedLife = 400 * 24 * time.Hour },
		"Storage.Source: how to store it names no source; say where it is from, were it an assumption":                                  func(m *material.Material) { m.Storage.Source = material.Source{} },
		"Lots.0.Number: a lot has no number; write what its label says":                                                                 func(m *material.Material) { m.Lots[0].Number = "" },
		"Lots.1.Number: lot \"L1\" is here a second time; keep one of them":                                                             func(m *material.Material) { m.Lots = append(m.Lots, material.Lot{Number: "L1"}) },
		"Lots.0.Opened: lot \"L1\" was opened before it was made; compare both dates with the label":                                    func(m *material.Material) { m.Lots[0].Opened = date(2023, 1, 1) },
		"Lots.0.Expiry: lot \"L1\" expires before it was made; compare both dates with the label":                                       func(m *material.Material) { m.Lots[0].Expiry = date(2023, 1, 1) },
		"Coat: a rubber does not dry as a coat does; leave the dry time out, or call it a sealer or release":                            func(m *material.Material) { m.Coat.Ref = time.Hour },
	} {
		t.Run(want, func(t *testing.T) { requireFault(t, sheet(t), c, want) })
	}
}

func TestFaultsOfCoats(t *testing.T) {
	for want, c := range map[string]change{
		"Kind: kind \"paint\" is unknown; choose one of rubber, resin, plaster, sealer, release":                                                           func(m *material.Material) { m.Kind = "paint" },
		"Coat.Class: class \"varnish\" of coat is unknown; choose one of lacquer, alcohol, water-borne, light naphtha, naphtha, mineral spirit, wait only": func(m *material.Material) { m.Coat.Class = "varnish" },
		"Coat.Ref: no dry time is stated; give the one of the data sheet, with the temperature it holds at":                                                func(m *material.Material) { m.Coat.Ref = 0 },
		"Coat.Ref: a dry time of -1 h cannot be; give one above 0 to 60 d, or none":                                                                        func(m *material.Material) { m.Coat.Ref = -time.Hour },
		"Coat.Source: the dry time names no source; say where it is from, were it an assumption":                                                           func(m *material.Material) { m.Coat.Source = material.Source{} },
		"Coat.RefHumidity: a dry time at a relative humidity of 5000 % cannot be; give the humidity it holds at, above 0 %, below 100 %, as 50 %":          func(m *material.Material) { m.Coat.RefHumidity = 50 },
		"Coat.RecoatUntil: the earliest time of the next coat of 48 h is not before the latest of 24 h; compare both with the data sheet": func(m *material.Material) {
			m.Coat.RecoatFrom, m.Coat.RecoatUntil = 48*time.Hour, 24*time.Hour
		},
		"Coat.FilmMicrometers: a dry film of -30 µm cannot be; give one above 0 to 10000 µm, or none":               func(m *material.Material) { m.Coat.FilmMicrometers = -30 },
		"Mixing.Parts: a sealer comes ready mixed and has no ratio; leave the mix out":                              func(m *material.Material) { m.Mixing.Parts = []material.Part{{Name: "A", Ratio: 1}} },
		"Demold.Ref: a sealer has no demold time; leave it out: a coat dries":                                       func(m *material.Material) { m.Demold.Ref = time.Hour },
		"Second.TempC: a sealer has no second temperature; leave it out: its solvent settles what temperature does": func(m *material.Material) { m.Second.Demold = time.Hour },
		"Inhibitable: a sealer dries and cannot be inhibited; say so of the rubber that goes on it":                 func(m *material.Material) { m.Inhibitable = true },
		"Cautions: what gives off solvent has no caution; write what its safety data sheet asks for first":          func(m *material.Material) { m.Cautions = nil },
	} {
		t.Run(want, func(t *testing.T) { requireFault(t, coat(t), c, want) })
	}
}

// requireFault wants one fault only, as "field: what; fix".
func requireFault(t *testing.T, m material.Material, c change, want string) {
	t.Helper()
	c(&m)
	err := m.Check()
	require.Error(t, err, want)
	var faults material.Faults
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults, 1, "%v", err)
	require.Equal(t, want, faults[0].Field+": "+faults[0].What+"; "+faults[0].Fix)
}

func TestFaultsNameTheMaterialOneALine(t *testing.T) {
	m := sheet(t)
	m.Title, m.Cautions = "", nil
	err := m.Check()
	require.EqualError(t, err, `material "my-rubber": "" is no title; write one line for people to read`+"\n"+
		`material "my-rubber": what is mixed and cured has no caution; write what its safety data sheet asks for first`)
	var one material.Fault
	require.True(t, errors.As(err, &one))
	require.Equal(t, "Title", one.Field)
}

// Whatever a person's file may hold, Check comes back with sentences.
func TestCheckNeverFailsToAnswer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.Make[material.Material]().Draw(t, "material")
		err := m.Check()
		if err == nil {
			return
		}
		var faults material.Faults
		require.ErrorAs(t, err, &faults)
		for _, f := range faults {
			require.NotEmpty(t, f.Field)
			require.NotEmpty(t, f.What)
			require.NotEmpty(t, f.Fix)
			require.False(t, strings.HasSuffix(f.Fix, "."))
		}
	})
}

func TestUseBy(t *testing.T) {
	m := material.Material{Storage: material.Storage{ShelfLife: 31 * 24 * time.Hour, OpenedLife: 10 * 24 * time.Hour}}
	for name, c := range map[string]struct {
		lot  material.Lot
		want time.Time
	}{
		"nothing known":        {material.Lot{Number: "1"}, time.Time{}},
		"shelf life":           {material.Lot{Made: date(2024, 1, 1)}, date(2024, 2, 1)},
		"once opened, sooner":  {material.Lot{Made: date(2024, 1, 1), Opened: date(2024, 1, 10)}, date(2024, 1, 20)},
		"opened late":          {material.Lot{Made: date(2024, 1, 1), Opened: date(2024, 1, 30)}, date(2024, 2, 1)},
		"the label's own date": {material.Lot{Made: date(2024, 1, 1), Expiry: date(2024, 1, 15)}, date(2024, 1, 15)},
	} {
		at, ok := m.UseBy(c.lot)
		require.Equal(t, !c.want.IsZero(), ok, name)
		require.Equal(t, c.want, at, name)
	}
}

func TestHumidities(t *testing.T) {
	require.True(t, material.Humidities{}.Holds(0.99))
	require.True(t, material.Humidities{Max: 0.8}.Holds(0.8))
	require.False(t, material.Humidities{Max: 0.8}.Holds(0.81))
	require.False(t, material.Humidities{Min: 0.2}.Holds(0.1))
}
