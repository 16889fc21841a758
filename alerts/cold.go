package alerts

import (
	"fmt"
	"math"
	"time"

	"pourward/model"
)

// backK is how far above the pour window the air must rise before "too cold" ends, so that air at the
// limit does not call again and again. Common practice, no source.
const backK = 0.5 // K

// heaterCare ends every advice to heat.
const heaterCare = "Keep heaters, flames and sparks away while solvent of a sealer or release agent is in the air, and air the " +
	"room: the product's safety data sheet and the local fire rules decide."

func shopTooCold() Definition {
	const name = "PourwardShopTooCold"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "It is too cold to pour where an open mold stands; coats dry late there and rubber stays uncured for longer.",
		When: "The air is known to be below the pour window of a place where an open mold stands. It ends half a kelvin above " +
			"the window, or when no open mold stands there any more; not because the probe fell silent.",
		WhatToDo:  "Warm the room, the pattern and the rubber, and wait for the surface to follow, before you mix. " + heaterCare,
		For:       10 * time.Minute,
		Labels:    []string{"place"},
		Condition: tooCold,
		Stays:     notWarmAgain,
		Expr:      bridged(name, tooColdExpr(name)),
		Summary:   "It is too cold to pour.",
		Description: "The air at {{ $labels.place }} " +
			"{{ if lt -274.0 $value }}is {{ printf \"%.1f\" $value }} °C: too cold to pour" +
			"{{ else }}was too cold to pour when last measured, and is not known now{{ end }}.",
	}
}

func tooCold(s *model.Snapshot) []Instance {
	return placesWith(s, (*model.MoldOutlook).Open, airC, func(p model.PlaceOutlook) bool { return p.Known && p.TempC < p.PourMinC })
}

func notWarmAgain(s *model.Snapshot) []Instance {
	return placesWith(s, (*model.MoldOutlook).Open, airC, func(p model.PlaceOutlook) bool { return !p.Known || p.TempC < p.PourMinC+backK })
}

// tooColdExpr: below the window; or firing and less than backK above it; or firing and not known now.
func tooColdExpr(name string) string {
	return fmt.Sprintf(`pourward_place_temperature_celsius < pourward_place_pour_window_min_celsius
and pourward_place_open_molds > 0
or
(
  pourward_place_temperature_celsius < pourward_place_pour_window_min_celsius + %[1]g
  or
  (pourward_place_known == 0) * NaN
)
and pourward_place_open_molds > 0
and on (instance, job, place) %[2]s`, backK, firing(name))
}

func coldComing() Definition {
	const name = "PourwardColdComing"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "It is warm enough to pour where a mold waits for it, but is likely to be too cold within a day.",
		When: "Some likely temperature of the next 24 hours lies below the pour window of a place, half a kelvin above which " +
			"the air is now, while an open mold stands there that is not poured. It ends when all of them lie half a kelvin above " +
			"the window, when the mold is poured, or gives way to PourwardShopTooCold; not because nothing is known.",
		WhatToDo: "Pour early enough that the cure is over before the cold comes, have heat for the night, or wait for warmer " +
			"days: rubber that gets cold while it cures stays uncured for longer, and mild contaminants begin to inhibit. " + heaterCare,
		For:       30 * time.Minute,
		Labels:    []string{"place"},
		Condition: comesCold,
		Stays:     notWarmAhead,
		Expr:      bridged(name, coldComingExpr(name)),
		Summary:   "It is likely to get too cold to pour.",
		Description: "The air at {{ $labels.place }} is likely to fall below the pour window within 24 hours" +
			"{{ if lt -274.0 $value }}, down to {{ printf \"%.1f\" $value }} °C{{ end }}.",
	}
}

func comesCold(s *model.Snapshot) []Instance {
	ahead := coldestAt(s)
	return placesWith(s, Unpoured, ahead, func(p model.PlaceOutlook) bool {
		return p.Known && p.TempC >= p.PourMinC+backK && ahead(p) < p.PourMinC
	})
}

func notWarmAhead(s *model.Snapshot) []Instance {
	ahead := coldestAt(s)
	return placesWith(s, Unpoured, ahead, func(p model.PlaceOutlook) bool {
		return (!p.Known || p.TempC >= p.PourMinC) && !(ahead(p) >= p.PourMinC+backK)
	})
}

func coldestAt(s *model.Snapshot) func(model.PlaceOutlook) float64 {
	return func(p model.PlaceOutlook) float64 { return ColdestAhead(p, s.Outlook.At) }
}

func coldComingExpr(name string) string {
	return fmt.Sprintf(`pourward_place_coldest_ahead_celsius < pourward_place_pour_window_min_celsius
and pourward_place_temperature_celsius >= pourward_place_pour_window_min_celsius + %[1]g
and pourward_place_unpoured_molds > 0
or
(
  pourward_place_coldest_ahead_celsius < pourward_place_pour_window_min_celsius + %[1]g
  or
  (pourward_place_unpoured_molds unless pourward_place_coldest_ahead_celsius) * NaN
)
and (pourward_place_temperature_celsius >= pourward_place_pour_window_min_celsius or pourward_place_known == 0)
and pourward_place_unpoured_molds > 0
and on (instance, job, place) %[2]s`, backK, firing(name))
}

func heatingOff() Definition {
	const name = "PourwardHeatingOff"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "The heating seems to have gone off where an open mold stands; what is told counts on the cold that follows.",
		When: "The air of the place falls as it does without heat, at an hour at which it was heated on other days, and an open " +
			"mold stands there. It ends when the heat is back, not because nothing is known.",
		WhatToDo: "Look at the heater, its fuel or fuse, its thermostat and the doors. If it is meant to be off, plan by the new " +
			"times. " + heaterCare,
		For:         10 * time.Minute,
		Labels:      []string{"place"},
		Condition:   unheated,
		Stays:       notHeatedAgain,
		Expr:        bridged(name, heatingOffExpr(name)),
		Summary:     "The heating seems to be off.",
		Description: "The air at {{ $labels.place }} falls as it does when the heating is off.",
	}
}

func unheated(s *model.Snapshot) []Instance {
	return placesWith(s, (*model.MoldOutlook).Open, noValue, func(p model.PlaceOutlook) bool { return Foreseen(p) && p.HeatedOff })
}

func notHeatedAgain(s *model.Snapshot) []Instance {
	return placesWith(s, (*model.MoldOutlook).Open, noValue, func(p model.PlaceOutlook) bool { return !Foreseen(p) })
}

func heatingOffExpr(name string) string {
	return fmt.Sprintf(`(pourward_place_heating_off == 1) * NaN
and pourward_place_open_molds > 0
or
((pourward_place_open_molds > 0) unless pourward_place_heating_off) * NaN
and on (instance, job, place) %s`, firing(name))
}

// placesWith finds the places of which is is true where a mold stands for which mold is true.
func placesWith(s *model.Snapshot, mold func(*model.MoldOutlook) bool, value func(model.PlaceOutlook) float64, is func(model.PlaceOutlook) bool) []Instance {
	var found []Instance
	for _, p := range s.Outlook.Places {
		if stands(s.Outlook, p.Name, mold) && is(p) {
			found = append(found, Instance{Labels: map[string]string{"place": p.Name}, Value: value(p)})
		}
	}
	return found
}

// stands reports whether a mold for which mold is true stands at a place.
func stands(o *model.Outlook, place string, mold func(*model.MoldOutlook) bool) bool {
	for i := range o.Molds {
		if o.Molds[i].Place == place && mold(&o.Molds[i]) {
			return true
		}
	}
	return false
}

// airC is the temperature of a place, °C; NaN where it is not known now.
func airC(p model.PlaceOutlook) float64 {
	if !p.Known {
		return math.NaN()
	}
	return p.TempC
}

func noValue(model.PlaceOutlook) float64 { return math.NaN() }
