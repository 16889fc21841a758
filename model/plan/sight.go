package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"pourward/model/cure"
	"pourward/model/dry"
	"pourward/model/forecast"
	"pourward/model/material"
)

// Sight is all that a plan needs to know of a shop: how the air of a place may go, and what its materials do in
// it. It is never changed once made.
type Sight struct {
	Place   string
	At      time.Time       // the first instant of the paths
	Paths   *forecast.Paths // at least one
	VaporPa float64         // pressure of the water vapor, held, since a closed shop keeps its moisture, Pa; NaN = not known
	Zone    *time.Location  // of the working hours; nil = UTC
	Stuffs  map[string]Stuff
}

// Stuff is a material as the shop knows it: what the shelf says, corrected by the shop's own checks.
type Stuff struct {
	Of         material.Material
	Work       Clock // working life
	Half       Clock // the cure is half done; before that it must not turn colder than Of.DoubtBelowC. Zero = not asked
	Demold     Clock
	LayerFrom  Clock // the next brushed layer may go on
	LayerUntil Clock // it no longer bonds after
	Coat       dry.Coat
	Humidity   material.Humidities // of air to pour in; a limit of 0 is none
}

// Clock is one event of a curing material: its median at the reference temperature, the law it follows and what
// is not known of it. The zero value is an event the material does not have.
type Clock struct {
	Seconds float64
	Law     cure.Arrhenius
	Spread  cure.Spread
}

// Known reports whether there is such an event.
func (c Clock) Known() bool { return c.Seconds > 0 }

// zone is where the working hours hold.
func (s Sight) zone() *time.Location {
	if s.Zone == nil {
		return time.UTC
	}
	return s.Zone
}

// find returns a material of the shop. The error lists what there is.
func (s Sight) find(name string) (Stuff, error) {
	if st, ok := s.Stuffs[name]; ok {
		return st, nil
	}
	var names []string
	for n := range s.Stuffs {
		names = append(names, n)
	}
	slices.Sort(names)
	return Stuff{}, fmt.Errorf("no material is called %q; there are: %s", name, strings.Join(names, ", "))
}
