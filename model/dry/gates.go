package dry

import (
	"math"

	"pourward/model/air"
)

// Reason says in one word of code why the air holds a coat back or calls for care.
type Reason uint8

// The closed list of reasons.
const (
	NoReason           Reason = iota
	NoReferenceTime           // the coat has no data-sheet time
	TemperatureUnknown        // no usable temperature
	HumidityUnknown           // no usable humidity
	TooCold                   // film below 10 °C
	TooHot                    // film above 35 °C
	Condensing                // surface at or below the dew point
	NearDewPoint              // surface less than 3 K above the dew point
	TooDamp                   // humidity above the ceiling of the class
	BlushCaution              // humid enough for a white bloom in a fast solvent film
	BelowFilmForming          // film below its minimum film-forming temperature
)

// String says the reason in plain words; empty for NoReason.
func (r Reason) String() string {
	switch r {
	case NoReason:
		return ""
	case NoReferenceTime:
		return "no dry time stated for this coat"
	case TemperatureUnknown:
		return "temperature unknown"
	case HumidityUnknown:
		return "humidity unknown"
	case TooCold:
		return "colder than 10 °C"
	case TooHot:
		return "hotter than 35 °C"
	case Condensing:
		return "water condenses on the surface"
	case NearDewPoint:
		return "surface less than 3 K above the dew point"
	case TooDamp:
		return "air too damp"
	case BlushCaution:
		return "humid enough to blush"
	case BelowFilmForming:
		return "below the film-forming temperature"
	}
	return "unknown reason"
}

// Gates is what the air says about a coat at one instant.
type Gates struct {
	Hold  Reason   // why nothing is projected; NoReason when the clock may be read
	Red   []Reason // do not apply a coat in this air
	Amber []Reason // go carefully
}

// Clear reports whether nothing holds and nothing forbids applying the coat.
func (g Gates) Clear() bool { return g.Hold == NoReason && len(g.Red) == 0 }

// Hold is the part of [Coat.Gates] that stops the clock or forbids reading it,
// without the work of listing the rest.
func (c Coat) Hold(a Air) Reason {
	k := c.clock()
	return k.pace(a.moment()).hold
}

// Gates judges the air for this coat: whether the clock may be read at all, and
// whether a coat may be applied. The 3 K margin over the dew point is that used
// with ISO 8502-4; the humidity ceilings are common practice, no source.
//
// Solvent vapor burns and harms: the product's safety data sheet and local
// rules decide whether it may be sprayed, whatever the gates say.
func (c Coat) Gates(a Air) Gates {
	k := c.clock()
	m := a.moment()
	g := Gates{Hold: k.pace(m).hold}
	if !m.measured() {
		return g
	}
	if math.IsNaN(m.humidity) {
		if g.Hold != HumidityUnknown {
			g.Amber = append(g.Amber, HumidityUnknown)
		}
		return g
	}
	switch margin := air.SurfaceMarginK(m.filmC, m.airC, m.humidity); {
	case g.Hold == Condensing:
	case margin <= 0:
		g.Red = append(g.Red, Condensing)
	case margin < nearDewK:
		g.Red = append(g.Red, NearDewPoint)
	}
	switch {
	case k.dampAt > 0 && m.humidity > k.dampAt:
		if g.Hold != TooDamp {
			g.Red = append(g.Red, TooDamp)
		}
	case k.cautionAt > 0 && m.humidity > k.cautionAt:
		g.Amber = append(g.Amber, BlushCaution)
	}
	return g
}
