package alerts

import (
	"fmt"
	"math"
	"slices"
	"time"

	"pourward/model"
)

func patternNearDew() Definition {
	const name = "PourwardPatternNearDew"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "A pattern that is not poured yet is so cold against the moisture of its air that it may be wet, unseen.",
		When: "Its surface is less than 3 K above the dew point (reason `surface-dew`). It does not end because a probe fell " +
			"silent.",
		WhatToDo: "Put nothing on it: coats blush and rubber does not wet it. Warm the pattern or dry the air, look and wipe, and " +
			"wait until it is 3 K above the dew point. " + heaterCare,
		For:        10 * time.Minute,
		KeepFiring: 30 * time.Minute,
		Labels:     []string{"mold"},
		Condition:  patternsWith(model.ReasonDew),
		Stays:      patternsWith(model.ReasonSurface, model.ReasonNoAir),
		Expr: bridged(name, fmt.Sprintf(`max without (reason) (pourward_mold_pour_reason{reason=%q} == 1) * NaN
or
max without (reason) (pourward_mold_pour_reason{reason=~"%s|%s"} == 1) * NaN
and on (instance, job, mold) %s`, model.ReasonDew, model.ReasonSurface, model.ReasonNoAir, firing(name))),
		Summary:     "A pattern may be wet with dew.",
		Description: "The pattern of {{ $labels.mold }} is less than 3 °C (5 °F) above the dew point, or was when last measured.",
	}
}

// patternsWith finds the molds not poured yet that one of the reasons speaks against.
func patternsWith(codes ...model.ReasonCode) func(*model.Snapshot) []Instance {
	return func(s *model.Snapshot) []Instance {
		var found []Instance
		for i := range s.Outlook.Molds {
			m := &s.Outlook.Molds[i]
			if Unpoured(m) && given(m.Pour, codes...) {
				found = append(found, Instance{Labels: map[string]string{"mold": m.Name}, Value: math.NaN()})
			}
		}
		return found
	}
}

func given(f model.Fitness, codes ...model.ReasonCode) bool {
	return slices.ContainsFunc(f.Reasons, func(r model.Reason) bool { return slices.Contains(codes, r.Code) })
}

func airTooDamp() Definition {
	const name = "PourwardAirTooDamp"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "The air is too damp where a coat or release agent dries or is to go on next.",
		When: "The air is above 85 % relative humidity (reason `air-damp`) at the place of an open mold on which no batch is " +
			"mixed and whose release agent is not dry. It does not end because the probe fell silent.",
		WhatToDo: "Put no coat on now; one that is drying may blush and dries late: look at it by raking light before you go on. " +
			"Dry the air, or warm it. " + heaterCare,
		For:         15 * time.Minute,
		KeepFiring:  time.Hour,
		Labels:      []string{"place"},
		Condition:   placesGiven(model.ReasonDamp),
		Stays:       placesGiven(model.ReasonNoAir),
		Expr:        bridged(name, airTooDampExpr(name)),
		Summary:     "The air is too damp for a coat.",
		Description: "The air at {{ $labels.place }} is above 85 % relative humidity, or was when last measured: too damp for a coat.",
	}
}

// placesGiven finds the places with coats at work whose air is not fit for the reason.
func placesGiven(code model.ReasonCode) func(*model.Snapshot) []Instance {
	return func(s *model.Snapshot) []Instance {
		return placesWith(s, Coating, noValue, func(p model.PlaceOutlook) bool { return given(p.Pour, code) })
	}
}

func airTooDampExpr(name string) string {
	return fmt.Sprintf(`max without (reason) (pourward_place_pour_reason{reason=%q} == 1) * NaN
and pourward_place_coating_molds > 0
or
max without (reason) (pourward_place_pour_reason{reason=%q} == 1) * NaN
and pourward_place_coating_molds > 0
and on (instance, job, place) %s`, model.ReasonDamp, model.ReasonNoAir, firing(name))
}
