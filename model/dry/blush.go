package dry

import (
	"math"

	"pourward/model/air"
)

// Heat and mass transfer to a wet film on an insulating ground indoors.
const (
	standardPa   = 101325.0
	convectionH  = 4.0    // convective surface coefficient, W/(m²·K)
	radiationH   = 5.5    // radiative surface coefficient, W/(m²·K)
	airHeatJ     = 1195.0 // heat capacity of air by volume at 23 °C, J/(m³·K)
	airDiffusion = 2.18e-5
)

// massTransfer is the Chilton-Colburn coefficient, m/s, that goes with
// convectionH for a vapor of the given diffusivity (m²/s).
func massTransfer(diffusivity float64) float64 {
	return convectionH / airHeatJ * math.Pow(diffusivity/airDiffusion, 2.0/3)
}

// WetFilmC is the temperature, °C, to which the evaporating liquid cools its
// own film on an insulating ground in air at airC: the heat from air and walls
// equals the heat the vapor takes away. The air is taken free of the vapor.
func (l Liquid) WetFilmC(airC float64) float64 {
	transfer := massTransfer(l.DiffusivityM2S(airC))
	gain := func(filmC float64) float64 {
		molesPerM3 := l.VaporPa(filmC) / (gasConstant * (filmC + kelvin))
		return (convectionH+radiationH)*(airC-filmC) - transfer*molesPerM3*l.VaporizationJ
	}
	low, high := airC-80, airC
	for range 60 {
		if middle := (low + high) / 2; gain(middle) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// BlushIndex compares how far the air is from its dew point with how far the
// liquid cools its film: (T - Td)/(T - Tfilm). Below 1 the film can reach the
// dew point and take up water. There is no published limit; the index orders
// solvents and days, it does not judge them.
func (l Liquid) BlushIndex(airC, humidity float64) float64 {
	return (airC - air.DewPointC(airC, humidity)) / (airC - l.WetFilmC(airC))
}

// Blush is the blush index of the coat's leading solvent: n-butyl acetate for
// a lacquer, ethanol for shellac. It is not ok for the other classes or while
// temperature or humidity is unknown.
func (c Coat) Blush(a Air) (index float64, ok bool) {
	m := a.moment()
	var l Liquid
	switch c.Class {
	case Lacquer:
		l = ButylAcetate()
	case Alcohol:
		l = Ethanol()
	default:
		return 0, false
	}
	index = l.BlushIndex(m.airC, m.humidity)
	return index, !math.IsNaN(index) && !math.IsInf(index, 0)
}
