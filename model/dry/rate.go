package dry

import (
	"math"

	"pourward/model/air"
)

// pace is the clock's speed at one moment: stage rates relative to the
// reference air, and the reason, if any, why a projection is out of the question.
type pace struct {
	wet, film float64
	hold      Reason
}

// stopped reports whether the clock stands still: every hold stops it except
// heat, see [Coat.Advance].
func (p pace) stopped() bool { return p.hold != NoReason && p.hold != TooHot }

// pace judges a moment and works out both rates.
func (k *clock) pace(m moment) pace {
	if p := k.unready(m); p.hold != NoReason {
		return p
	}
	var p pace
	if over := m.filmC - hottestC; over > 0 {
		p.hold = TooHot
		m.filmC, m.airC = hottestC, m.airC-over
	}
	vapour := m.humidity * air.SaturationPa(m.airC)
	film := air.SaturationPa(m.filmC)
	if film <= vapour {
		return pace{hold: Condensing}
	}
	p.wet, p.film = k.rates(m, film-vapour)
	if k.coat.StandardScore == 0 {
		p.wet, p.film = math.Min(p.wet, fastestRate), math.Min(p.film, fastestRate)
		return p
	}
	return k.banded(p, m)
}

// unready returns a hold for what can be told without the vapor pressures.
func (k *clock) unready(m moment) pace {
	switch {
	case !(k.wetSeconds+k.filmSeconds > 0):
		return pace{hold: NoReferenceTime}
	case !m.measured():
		return pace{hold: TemperatureUnknown}
	case m.filmC < coldestC:
		return pace{hold: TooCold}
	case !k.deficit:
		return pace{}
	case math.IsNaN(m.humidity):
		return pace{hold: HumidityUnknown}
	case m.humidity > k.dampAt:
		return pace{hold: TooDamp}
	case m.filmC < k.filmFormingC:
		return pace{hold: BelowFilmForming}
	}
	return pace{}
}

// rates returns the stage rates before the ceiling. deficitPa is the vapor
// pressure of water at the film less that of the air.
func (k *clock) rates(m moment, deficitPa float64) (wet, film float64) {
	switch {
	case k.deficit:
		return deficitPa / k.deficitPa, k.clausiusClapeyron(k.filmJ, m.filmC)
	case k.coat.Class == DryingOil:
		refC := 1/k.inverseRefK - kelvin
		wet = math.Pow(oxidationQ10, (m.filmC-refC)/10)
	default:
		wet = k.clausiusClapeyron(k.wetJ, m.filmC)
	}
	return wet, wet
}

// clausiusClapeyron is the ratio of vapor pressures at filmC and at the
// reference temperature for a latent heat in J/mol; as an Arrhenius factor it
// serves the film stage too.
func (k *clock) clausiusClapeyron(joule, filmC float64) float64 {
	return math.Exp(-joule / gasConstant * (1/(filmC+kelvin) - k.inverseRefK))
}
