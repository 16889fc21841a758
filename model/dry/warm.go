package dry

import (
	"math"

	"pourward/model/air"
)

// IndoorH is the surface coefficient, W/(m²·K), of still indoor air:
// convection 3 to 4 and radiation about 5 (ISO 6946 surface resistance
// 0.13 m²·K/W gives 7.7).
const IndoorH = 8.0

// Ground is what a cold pattern is made of.
type Ground struct {
	ConductivityW float64 // W/(m·K)
	DensityKg     float64 // kg/m³
	HeatJ         float64 // specific heat, J/(kg·K)
}

// LumpedSeconds is the time constant of a body that warms as one piece:
// density times specific heat times volume over area (m), over h (W/(m²·K)).
func (g Ground) LumpedSeconds(volumeOverArea, h float64) float64 {
	return g.DensityKg * g.HeatJ * volumeOverArea / h
}

// Biot is h times volume over area (m) over conductivity; below 0.1 the body
// warms as one piece.
func (g Ground) Biot(volumeOverArea, h float64) float64 {
	return h * volumeOverArea / g.ConductivityW
}

// clearing is the share of the way from startC to the air's temperature at
// which a surface is 3 K above the dew point: 0 or less when it is so already,
// not ok when the air itself is not, or is not known.
func clearing(startC float64, a Air) (share float64, ok bool) {
	targetC := air.DewPointC(a.AirC, math.Min(a.Humidity, 1)) + nearDewK
	if startC >= targetC {
		return 0, true
	}
	share = (targetC - startC) / (a.AirC - startC)
	return share, share > 0 && share < 1
}

// LumpedWait is the time, in seconds, until a body at startC with the given
// time constant is 3 K above the dew point of steady air. Not ok means never:
// dry the air or heat the room. Surface temperature in a is not used.
func LumpedWait(startC float64, a Air, constantSeconds float64) (seconds float64, ok bool) {
	share, ok := clearing(startC, a)
	if !ok {
		return 0, false
	}
	return -constantSeconds * math.Log1p(-share), true
}

// ThickWait is the same for the surface of a body so thick that its core still
// lags (Biot number above 0.1: plaster, clay, wood), as a semi-infinite solid
// with surface coefficient h (W/(m²·K)). The surface leads the core, which can
// draw it back once the room cools: see [Warmed].
func (g Ground) ThickWait(startC float64, a Air, h float64) (seconds float64, ok bool) {
	share, ok := clearing(startC, a)
	if !ok {
		return 0, false
	}
	if share == 0 {
		return 0, true
	}
	low, high := 0.0, 1/(math.SqrtPi*(1-share)) // since exp(z²)erfc(z) < 1/(z√π)
	for range 100 {
		if middle := (low + high) / 2; 1-scaledErfc(middle) < share {
			low = middle
		} else {
			high = middle
		}
	}
	depth := high * g.ConductivityW / h
	return depth * depth * g.DensityKg * g.HeatJ / g.ConductivityW, true
}

// scaledErfc is exp(z²)·erfc(z) for z ≥ 0, by Laplace's continued fraction where
// the product of the two would lose or overflow.
func scaledErfc(z float64) float64 {
	if z < 5 {
		return math.Exp(z*z) * math.Erfc(z)
	}
	tail := z
	for n := 40; n > 0; n-- {
		tail = z + float64(n)/2/tail
	}
	return 1 / (math.SqrtPi * tail)
}

// DewPerHour is the water that condenses on the surface, g/m² in an hour, which
// is also its depth in micrometers; 0 on a surface above the dew point, NaN
// where something is unknown.
func DewPerHour(a Air) float64 {
	m := a.moment()
	const colburn = 1087.0 // air heat capacity by volume times Lewis number to the 2/3, J/(m³·K)
	excess := air.AbsoluteHumidity(m.airC, m.humidity) - air.AbsoluteHumidity(m.filmC, 1)
	return math.Max(0, 3600*convectionH/colburn*excess)
}

// SettledSeconds is how long a warmed surface must stay 3 K above the dew point
// before it counts: common practice asks for a margin that holds and rises.
const SettledSeconds = 1800.0

// Warmed watches a cold pattern come up. The zero value has seen nothing.
type Warmed struct {
	Seconds float64 // how long the surface has kept its margin
	FromC   float64 // surface temperature when it first had it
	NowC    float64 // surface temperature at the end
}

// Advance carries the watch over an interval; an end without the margin, or
// unknown, starts it over.
func (w Warmed) Advance(from, to Air, seconds float64) Warmed {
	if !from.clears() || !to.clears() {
		return Warmed{}
	}
	if w.Seconds == 0 {
		w.FromC = from.SurfaceC
	}
	w.Seconds += math.Max(0, seconds)
	w.NowC = to.SurfaceC
	return w
}

// Settled reports whether the margin has held for half an hour without the
// surface falling back.
func (w Warmed) Settled() bool {
	return w.Seconds >= SettledSeconds && w.NowC >= w.FromC
}

// clears reports whether the surface is known to be 3 K above the dew point. A
// surface without its own probe never is: air says nothing about a cold pattern.
func (a Air) clears() bool {
	return air.SurfaceMarginK(a.SurfaceC, a.AirC, math.Min(a.Humidity, 1)) >= nearDewK
}
