package plan

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/cure"
	"pourward/model/dry"
	"pourward/model/material"
)

// At one temperature all is a sum of times that the published formulas give.
func TestLatestStartAtOneTemperature(t *testing.T) {
	for _, r := range table(t, "constant.csv") {
		t.Run(r["note"], func(t *testing.T) {
			refC := r.number(t, "ref_c")
			s := shop(10, steady(r.number(t, "temp_c")),
				rubber("rubber", refC, r.number(t, "q_k")*cure.GasConstant, 60*r.number(t, "work_min"), 3600*r.number(t, "demold_h"), r.number(t, "ln_sd")),
				coat("lacquer", material.Sealer, dry.Lacquer, refC, time.Hour))
			c := Course{{"rubber", 1}}
			if n := int(r.number(t, "coats")); n > 0 {
				c = Course{{"lacquer", n}, {"rubber", 1}}
			}
			p, err := Make(Request{Sight: s, Course: c, Hours: UsualHours(), Now: s.At, By: day(t, r["by"])})
			require.NoError(t, err)
			require.Equal(t, Holds, p.Verdict)
			require.Equal(t, r["latest"], p.Latest.Format("Mon 15:04"))
			require.Equal(t, 1.0, p.Share)
			poured, off := p.Actions[len(p.Actions)-2], p.Actions[len(p.Actions)-1]
			hours := off.Ready.Likely.Sub(poured.Begin.Likely).Hours() - r.number(t, "work10_min")/60
			require.InDelta(t, r.number(t, "cure90_h"), hours, 0.002)
		})
	}
}

// annex is an unheated place: every path has its own level and swing.
func annex(i, h int) float64 {
	level := 15 + 3*math.Sin(float64(i)*1.7) + 0.02*float64(h)*math.Sin(float64(i)*0.6)
	return level + 4*math.Sin(2*math.Pi*(float64(h)-9)/24)
}

func materials() []Stuff {
	slow := rubber("platinum-slow", 22.5, 55e3, 1800, 4*3600, 0.15)
	slow.Half, slow.Of.DoubtBelowC = slow.Demold, 10
	slow.Half.Seconds /= 2
	return []Stuff{
		slow, rubber("tin-silicone", 22.5, 45e3, 2700, 16*3600, 0.25),
		rubber("resin", 22.5, 43.6e3, 180, 1200, 0.25),
		coat("lacquer", material.Sealer, dry.Lacquer, 22.5, time.Hour), coat("wax-naphtha", material.Release, dry.LightNaphtha, 22.5, 25*time.Minute),
		coat("water-borne", material.Sealer, dry.WaterBorne, 22.5, 90*time.Minute),
	}
}

func parsed(t require.TestingT, text string) Course {
	c, err := ParseCourse(text)
	require.NoError(t, err)
	return c
}

func daily(from, to int) Hours {
	return Hours{{Days: [7]bool{true, true, true, true, true, true, true}, From: time.Duration(from) * time.Hour, To: time.Duration(to) * time.Hour}}
}

func make1(t require.TestingT, r Request) *Plan {
	p, err := Make(r)
	require.NoError(t, err)
	return p
}

func TestTwoStepCourse(t *testing.T) {
	s := shop(200, func(i, h int) float64 { return annex(i, h) + 8 }, materials()...)
	p := make1(t, Request{Sight: s, Course: parsed(t, "lacquer, wax-naphtha, resin, wax-naphtha, tin-silicone, lacquer, wax-naphtha, platinum-slow"),
		Hours: UsualHours(), Now: day(t, "Wed 08:00"), By: day(t, "Fri 17:00")})
	require.Equal(t, Holds, p.Verdict)
	require.GreaterOrEqual(t, p.Share, 0.9)
	var kinds []Kind
	for _, a := range p.Actions {
		kinds = append(kinds, a.Kind)
	}
	require.Equal(t, []Kind{CoatOn, ReleaseOn, Pour, Demold, ReleaseOn, Pour, Demold, CoatOn, ReleaseOn, Pour, Demold}, kinds)
	for i := 1; i < len(p.Actions); i++ {
		a, b := p.Actions[i-1], p.Actions[i]
		require.False(t, b.Begin.Likely.Before(a.Begin.Likely), "%s is before %s", b.Title, a.Title)
		require.False(t, b.Begin.Likely.Before(b.Ready.Likely), "%s is not ready", b.Title)
	}
	require.False(t, p.Done.Likely.After(day(t, "Fri 17:00")))
}

func TestBrushedLayersMeetTheirWindow(t *testing.T) {
	s := shop(50, steady(20), materials()...)
	p := make1(t, Request{Sight: s, Course: parsed(t, "3 platinum-slow"), Hours: UsualHours(), Now: day(t, "Wed 08:00"), By: day(t, "Fri 10:00")})
	require.Equal(t, Holds, p.Verdict)
	st := s.Stuffs["platinum-slow"]
	rate := st.Demold.Law.Rate(20)
	for i := 1; i < 3; i++ {
		gap := p.Actions[i].Begin.Likely.Sub(p.Actions[i-1].Begin.Likely).Seconds() * rate
		require.Greater(t, gap, st.LayerFrom.Seconds, "layer %d", i+1)
		require.Less(t, gap, st.LayerUntil.Seconds, "layer %d", i+1)
	}
	require.Equal(t, "Thu", p.Latest.Format("Mon"), "layers that begin too late in the day would wait over night")
	require.Less(t, p.Latest.Hour(), 15)
}

// Half cured after 2 h at 22.5 °C, by C1074's formula after 2 h 15 min at 21 °C: what is poured at 16:45 would meet a
// night of 5 °C before that, what is poured at 15:00 would not.
func TestNothingIsPouredIntoTheCold(t *testing.T) {
	s := shop(20, func(_, h int) float64 {
		if h%24 >= 8 && h%24 <= 18 {
			return 21
		}
		return 5
	}, materials()...)
	r := Request{Sight: s, Course: parsed(t, "platinum-slow"), Hours: daily(8, 18), Now: day(t, "Wed 16:45"), By: day(t, "Fri 17:00"), Begin: day(t, "Wed 16:45")}
	p := make1(t, r)
	require.Equal(t, day(t, "Thu 08:00"), p.Actions[0].Begin.Likely)
	require.Equal(t, ColdAhead, p.Actions[0].Held)
	r.Begin = day(t, "Thu 15:00")
	p = make1(t, r)
	require.Equal(t, day(t, "Thu 15:00"), p.Actions[0].Begin.Likely, "half cured by 17:15")
}

func TestAirToPourIn(t *testing.T) {
	of := &Stuff{Of: material.Material{Pour: material.Window{MinC: 18, MaxC: 32}}, Humidity: material.Humidities{Min: 0.2, Max: 0.85}}
	for want, a := range map[Hold]dry.Air{
		TooCold: {AirC: 17.9, Humidity: 0.5}, TooWarm: {AirC: 32.1, Humidity: 0.5}, TooDamp: {AirC: 20, Humidity: 0.86},
		TooDry: {AirC: 20, Humidity: 0.1}, NoHold: {AirC: 18, Humidity: math.NaN()},
	} {
		require.Equal(t, want, fit(of, a))
	}
}

// A shop that is open for two hours a day cannot brush three layers that wait over an hour each.
func TestHoursThatNoLayerFitsAreNamed(t *testing.T) {
	s := shop(20, steady(20), materials()...)
	p := make1(t, Request{Sight: s, Course: parsed(t, "3 platinum-slow"), Hours: daily(9, 11), Now: s.At, By: day(t, "Fri 11:00")})
	require.Equal(t, TooLate, p.Verdict)
	require.True(t, p.Soonest.IsZero())
	require.Equal(t, []Block{{Title: "Mix and brush layer 1", Hold: ForLayers, On: 1}}, p.Blocks)
}

func TestWindowThatNineInTenMissIsNamed(t *testing.T) {
	quick := rubber("quick", 22.5, 50e3, 1800, 4*3600, 0.15)
	quick.LayerUntil.Seconds = quick.LayerFrom.Seconds
	s := shop(20, steady(20), quick)
	p := make1(t, Request{Sight: s, Course: parsed(t, "2 quick"), Hours: daily(8, 17), Now: s.At, By: day(t, "Fri 11:00")})
	require.Equal(t, NoWindow, p.Blocks[0].Hold)
}

func TestColdShopIsToldWhatHeatBuys(t *testing.T) {
	s := shop(100, func(i, h int) float64 { return annex(i, h) - 8 }, materials()...)
	r := Request{Sight: s, Course: parsed(t, "lacquer, platinum-slow"), Hours: UsualHours(), Now: day(t, "Wed 08:00"), By: day(t, "Fri 17:00")}
	cold := make1(t, r)
	require.Equal(t, TooLate, cold.Verdict)
	require.Less(t, cold.Share, 0.9)
	require.NotEmpty(t, cold.Blocks)
	r.Heat = &Heat{TempC: 22, From: day(t, "Thu 07:00")}
	warm := make1(t, r)
	require.Equal(t, Holds, warm.Verdict)
	require.True(t, warm.Latest.After(day(t, "Thu 08:00")), warm.Latest)
	r.Heat = &Heat{TempC: 22, Hours: Hours{{Days: [7]bool{5: true}, From: 7 * time.Hour, To: 17 * time.Hour}}}
	friday := make1(t, r)
	require.Equal(t, Holds, friday.Verdict)
	require.Equal(t, "Fri", friday.Actions[1].Begin.Likely.Format("Mon"), "warm only on Friday")
}

func TestBeyondTheForecastNoNumberIsTold(t *testing.T) {
	s := shop(20, steady(20), materials()...)
	by := s.At.Add(73 * time.Hour)
	p := make1(t, Request{Sight: s, Course: parsed(t, "platinum-slow"), Hours: UsualHours(), Now: s.At, By: by})
	require.Equal(t, CannotSay, p.Verdict)
	require.True(t, p.Latest.IsZero())
	require.True(t, math.IsNaN(p.Share))
	require.Equal(t, s.At.Add(time.Hour), p.AskFrom)
	require.False(t, p.Soonest.IsZero(), "what lies within the forecast can be told")
	freezing := shop(20, steady(1), materials()...)
	p = make1(t, Request{Sight: freezing, Course: parsed(t, "platinum-slow"), Hours: UsualHours(), Now: s.At, By: day(t, "Fri 17:00")})
	require.Equal(t, TooLate, p.Verdict)
	require.True(t, p.Soonest.IsZero())
	require.Equal(t, TooCold, p.Blocks[0].Hold)
}

func TestWhatCannotBePlannedIsSaid(t *testing.T) {
	s := shop(5, steady(20), materials()...)
	good := Request{Sight: s, Course: parsed(t, "platinum-slow"), Hours: UsualHours(), Now: day(t, "Wed 08:00"), By: day(t, "Fri 17:00")}
	for says, change := range map[string]func(*Request){
		"nothing is known of the air":     func(r *Request) { r.Sight.Paths = nil },
		"no working hours":                func(r *Request) { r.Hours = nil },
		"the deadline has passed":         func(r *Request) { r.By = r.Now },
		"the start has passed":            func(r *Request) { r.Begin = r.Now.Add(-time.Hour) },
		"not before the deadline":         func(r *Request) { r.Begin = r.By },
		"beyond the 72 hours":             func(r *Request) { r.By, r.Begin = r.Now.AddDate(0, 0, 9), r.Now.AddDate(0, 0, 8) },
		"heated to 5 to 35":               func(r *Request) { r.Heat = &Heat{TempC: 60} },
		"no material is called \"putty\"": func(r *Request) { r.Course = Course{{"putty", 1}} },
		"name a rubber":                   func(r *Request) { r.Course = Course{{"lacquer", 1}} },
		"from 1 to 12":                    func(r *Request) { r.Course = Course{{"lacquer", 13}, {"resin", 1}} },
	} {
		r := good
		change(&r)
		_, err := Make(r)
		require.ErrorContains(t, err, says)
	}
	unlayered := rubber("plain", 22.5, 50e3, 60, 600, 0.1)
	unlayered.LayerFrom = Clock{}
	good.Sight.Stuffs["plain"] = unlayered
	good.Course = Course{{"plain", 2}}
	_, err := Make(good)
	require.ErrorContains(t, err, "poured but not brushed")
	unlayered.Demold = Clock{}
	good.Sight.Stuffs["plain"] = unlayered
	_, err = Make(good)
	require.ErrorContains(t, err, "no demold time is known of plain")
}

func BenchmarkMake(b *testing.B) {
	s := shop(200, annex, materials()...)
	for name, course := range map[string]string{
		"poured": "2 lacquer, wax-naphtha, platinum-slow", "layers": "2 lacquer, wax-naphtha, 4 platinum-slow",
		"two-step": "2 lacquer, wax-naphtha, tin-silicone, wax-naphtha, resin, lacquer, wax-naphtha, platinum-slow",
	} {
		for _, heat := range []*Heat{nil, {TempC: 22}} {
			r := Request{Sight: s, Course: parsed(b, course), Hours: UsualHours(), Now: s.At, By: day(b, "Fri 17:00"), Heat: heat}
			b.Run(fmt.Sprintf("%s/heat=%v", name, heat != nil), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := Make(r); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
