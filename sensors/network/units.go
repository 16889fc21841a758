package network

import (
	"math"
	"strings"
)

// TempUnit is the unit of a temperature that arrives. The zero unit is none: it must be told.
type TempUnit uint8

// Units of temperature.
const (
	Celsius TempUnit = iota + 1
	Fahrenheit
	Kelvin
)

const zeroCInK = 273.15 // 0 °C (SI Brochure, 9th edition, 2.3.1)

// celsius returns a temperature of the unit in °C (NIST SP 811:2008, B.8: t/°C = (t/°F − 32)/1.8).
func (u TempUnit) celsius(v float64) float64 {
	switch u {
	case Fahrenheit:
		return (v - 32) / 1.8
	case Kelvin:
		return v - zeroCInK
	}
	return v
}

// tempUnit returns the unit that a text names.
func tempUnit(text string) (TempUnit, *refused) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "c", "°c", "degc", "celsius":
		return Celsius, nil
	case "f", "°f", "degf", "fahrenheit":
		return Fahrenheit, nil
	case "k", "kelvin":
		return Kelvin, nil
	}
	return 0, refuse(WrongUnit, "%.20q is no unit of temperature known here; it may be C, F or K", text)
}

// HumidityUnit is the unit of a relative humidity that arrives. The zero unit is none: it must be told.
//
// Two mistakes are noticed: above 0 and up to 1 cannot be percent, and above 1.04 cannot be a ratio. Air
// in a room is never as dry as 1 % (common practice, no source), and a saturated element reads up to
// 104 % (limit of the Austrian weather service's automatic stations, WMO ET-AWS 2002).
type HumidityUnit uint8

// Units of relative humidity.
const (
	Percent HumidityUnit = iota + 1
	Ratio
)

const (
	driestPercent = 1.0
	mostRatio     = 1.04
	mostPercent   = 104.0
)

// ratio returns a relative humidity of the unit as a ratio.
func (u HumidityUnit) ratio(v float64) (float64, *refused) {
	switch {
	case u == Percent && v > 0 && v <= driestPercent:
		return math.NaN(), refuse(WrongUnit, "humidity %g can hardly be in %%: is it a ratio?", v)
	case u == Ratio && v > mostRatio && v <= mostPercent:
		return math.NaN(), refuse(WrongUnit, "humidity %g cannot be a ratio: is it in %%?", v)
	case u == Percent:
		return v / 100, nil
	}
	return v, nil
}

// humidityUnit returns the unit that a text names.
func humidityUnit(text string) (HumidityUnit, *refused) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "%", "percent":
		return Percent, nil
	case "ratio":
		return Ratio, nil
	}
	return 0, refuse(WrongUnit, "%.20q is no unit of humidity known here; it may be %% or ratio", text)
}
