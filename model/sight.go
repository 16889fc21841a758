package model

import (
	"fmt"
	"time"

	"pourward/model/material"
	"pourward/model/plan"
)

// Sight is how the air of a place may go from its newest reading on, and what the shop knows of its materials:
// all that a plan needs, never changed afterwards. The error says why nothing can be told there.
func (s *Shop) Sight(place string, at time.Time) (plan.Sight, error) {
	p, ok := s.places[place]
	if !ok {
		return plan.Sight{}, fmt.Errorf("no place is called %q", place)
	}
	now := at.UnixMilli()
	b := p.believed(now)
	switch {
	case b == nil:
		return plan.Sight{}, fmt.Errorf("no probe sits at %s, so nothing can be planned there", place)
	case !b.heard:
		return plan.Sight{}, fmt.Errorf("probe %s has not said anything yet, so nothing can be planned at %s", b.Name, place)
	case !b.fresh(now):
		return plan.Sight{}, fmt.Errorf("probe %s is silent, so nothing can be planned at %s: look at the probe", b.Name, place)
	}
	a := lookAhead(p, s.newest-keep.Milliseconds())
	if a == nil || a.paths == nil {
		return plan.Sight{}, fmt.Errorf("nothing is known of the air to come at %s", place)
	}
	out := plan.Sight{Place: place, At: instant(a.from), Paths: a.paths, VaporPa: a.vaporPa, Zone: s.setup.Zone, Stuffs: map[string]plan.Stuff{}}
	for _, name := range s.setup.Shelf.Names() {
		of, err := s.setup.Shelf.Find(name)
		if err != nil {
			return plan.Sight{}, err
		}
		out.Stuffs[name] = s.stuff(of, b.AccuracyK)
	}
	return out, nil
}

// stuff is a material as the shop knows it by now. How a mold is built is not known before it is begun, so its
// lag behind the air widens the band.
func (s *Shop) stuff(of material.Material, probeK float64) plan.Stuff {
	clock := func(e material.Event, lagSD float64) plan.Clock {
		return plan.Clock{Seconds: e.Ref.Seconds(), Law: law(of, e), Spread: spreadOf(e, knownOf(of), probeK, lagSD)}
	}
	if !of.Cures() {
		return plan.Stuff{Of: of, Coat: dryCoat(of, 0)}
	}
	demold := s.learnedNow(of)
	half := clock(demold, noLagSD)
	half.Seconds *= halfCured
	return plan.Stuff{
		Of: of, Half: half, Humidity: dampLimits(of),
		Work:      clock(withSecond(of, of.WorkingLife, of.Second.WorkingLife), 0),
		Demold:    clock(demold, noLagSD),
		LayerFrom: clock(of.LayerEarliest, noLagSD), LayerUntil: clock(of.LayerLatest, noLagSD),
	}
}
