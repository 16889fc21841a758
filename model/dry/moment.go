package dry

import "math"

// Air is what surrounds a coat at one instant.
type Air struct {
	AirC     float64 // air temperature, °C
	SurfaceC float64 // temperature of the coated surface, °C; NaN = not measured, take AirC
	Humidity float64 // relative humidity over liquid water, ratio 0..1; NaN = unknown
}

// moment is Air with the question of the surface settled.
type moment struct {
	airC, filmC, humidity float64
}

// moment settles the film temperature, and the humidity of a probe that reads
// past saturation or below nothing.
func (a Air) moment() moment {
	m := moment{airC: a.AirC, filmC: a.SurfaceC, humidity: math.Min(a.Humidity, 1)}
	if math.IsNaN(a.SurfaceC) {
		m.filmC = a.AirC
	}
	if m.humidity < 0 {
		m.humidity = math.NaN()
	}
	return m
}

// toward returns the moment a share of the way to end, the air changing linearly.
func (m moment) toward(end moment, share float64) moment {
	return moment{
		airC:     m.airC + share*(end.airC-m.airC),
		filmC:    m.filmC + share*(end.filmC-m.filmC),
		humidity: m.humidity + share*(end.humidity-m.humidity),
	}
}

// measured reports whether both temperatures are numbers.
func (m moment) measured() bool {
	sum := m.airC + m.filmC
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}
