package alerts

import (
	"math"
	"time"

	"pourward/model"
)

// backK is how far above the pour window the air must rise before "too cold" ends, so that air at the
// limit does not call again and again. Common practice, no source.
const backK = 0.5 // K

func shopTooCold() Definition {
	const name = "PourwardShopTooCold"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "It is too cold to pour where an open mold stands; coats dry late there and rubber stays uncured for longer.",
		When: "The air is known to be below the pour window of a place where an open mold stands. It ends half a kelvin above " +
			"the window, or when no open mold stands there any more; not because the probe fell silent.",
		WhatToDo: "Warm the room, the pattern and the rubber, and wait for the surface to follow, before you mix. Keep heaters, " +
			"flames and sparks away while solvent of a sealer or release agent is in the air, and air the room: the product's " +
			"safety data sheet and the local fire rules decide.",
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
	return molded(s, func(p model.PlaceOutlook) bool { return p.Known && p.TempC < p.PourMinC })
}

func notWarmAgain(s *model.Snapshot) []Instance {
	return molded(s, func(p model.PlaceOutlook) bool { return !p.Known || p.TempC < p.PourMinC+backK })
}

// molded finds the places with an open mold on which is true; the value is the temperature in °C.
func molded(s *model.Snapshot, is func(model.PlaceOutlook) bool) []Instance {
	var found []Instance
	for _, p := range s.Outlook.Places {
		if !inUse(s.Outlook, p.Name) || !is(p) {
			continue
		}
		value := p.TempC
		if !p.Known {
			value = math.NaN()
		}
		found = append(found, Instance{Labels: map[string]string{"place": p.Name}, Value: value})
	}
	return found
}

func inUse(o *model.Outlook, place string) bool {
	for i := range o.Molds {
		if o.Molds[i].Open() && o.Molds[i].Place == place {
			return true
		}
	}
	return false
}

func probeSilent() Definition {
	const name = "PourwardProbeSilent"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "A probe gives nothing that can be trusted; what depends on it cannot be told.",
		When:     "The probe has given no trusted reading for three of its intervals, and at least two minutes.",
		WhatToDo: "Look at the cable, the connector and the supply of the probe. The page tells the last error and which " +
			"molds depend on it. A check by hand still counts while the probe is out.",
		For:        5 * time.Minute,
		KeepFiring: 5 * time.Minute,
		Labels:     []string{"probe"},
		Condition:  silentProbes,
		Expr:       bridged(name, probeSilentExpr),
		Summary:    "A probe is silent.",
		Description: "Probe {{ $labels.probe }} has given no trusted reading" +
			"{{ if lt 0.0 $value }} since " + localTime + "{{ end }}.",
	}
}

func silentProbes(s *model.Snapshot) []Instance {
	var found []Instance
	for _, p := range s.Outlook.Probes {
		if p.Silent {
			found = append(found, Instance{Labels: map[string]string{"probe": p.Name}, Value: unixSeconds(p.Last, 0)})
		}
	}
	return found
}
