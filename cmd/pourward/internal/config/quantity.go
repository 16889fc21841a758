package config

import (
	"fmt"
	"strconv"
	"strings"

	"pourward/cmd/pourward/internal/keyed"
)

// TempC is a temperature in °C, at or above absolute zero.
type TempC float64

// DiffK is a difference of temperatures in kelvin.
type DiffK float64

// Ratio is a share of 1, as relative humidity 0..1.
type Ratio float64

// TempUnit is a unit people read temperatures in.
type TempUnit string

// The two units of a thermometer in the shop.
const (
	Celsius    TempUnit = "°C"
	Fahrenheit TempUnit = "°F"
)

const (
	absoluteZeroC  = -273.15 // BIPM, The International System of Units, 9th ed. (2019), 2.3.1
	fahrenheitZero = 32.0    // °F at 0 °C; with the next, NIST SP 811 (2008), B.8
	fahrenheitPerK = 1.8
	rounding       = 1e-9 // what a conversion may lose
)

// In gives the temperature as a number of u.
func (t TempC) In(u TempUnit) float64 {
	if u == Fahrenheit {
		return float64(t)*fahrenheitPerK + fahrenheitZero
	}
	return float64(t)
}

// String gives the temperature in the form [ParseTemp] reads, without loss.
func (t TempC) String() string { return decimal(float64(t)) + " °C" }

// String gives the difference in the form [ParseTempDiff] reads, without loss.
func (d DiffK) String() string { return decimal(float64(d)) + " K" }

// String gives the ratio in the form [ParsePercent] reads.
func (r Ratio) String() string { return decimal(float64(r)*100) + " %" }

// ParseTemp reads a temperature with its unit: "20 °C", "68 °F", "20C". The unit is never guessed.
func ParseTemp(text string) (TempC, error) {
	number, unit, err := quantity(text, "a temperature", 20, "°C", "°F")
	if err != nil {
		return 0, err
	}
	var tempC float64
	switch tempUnit(unit) {
	case Celsius:
		tempC = number
	case Fahrenheit:
		tempC = (number - fahrenheitZero) / fahrenheitPerK
	default:
		return 0, keyed.Wrongf("%q: %q is no unit of temperature here", text, unit).InsteadWrite(examples(number, "°C", "°F"))
	}
	if tempC < absoluteZeroC-rounding {
		return 0, keyed.Wrongf("%q is below absolute zero", text).InsteadWrite(`"20 °C"`)
	}
	return TempC(max(tempC, absoluteZeroC)), nil
}

// ParseTempDiff reads a difference of temperatures with its unit: "0.3 K", "-0.5 °C", "0.9 °F".
func ParseTempDiff(text string) (DiffK, error) {
	number, unit, err := quantity(text, "a difference of temperatures", 0.3, "K")
	switch {
	case err != nil:
		return 0, err
	case unit == "K" || tempUnit(unit) == Celsius:
		return DiffK(number), nil
	case tempUnit(unit) == Fahrenheit:
		return DiffK(number / fahrenheitPerK), nil
	}
	return 0, keyed.Wrongf("%q: %q is no unit of temperature difference here", text, unit).InsteadWrite(examples(number, "K"))
}

// ParsePercent reads a share of a hundred, 0..100, with its sign: "55 %".
func ParsePercent(text string) (Ratio, error) {
	number, unit, err := quantity(text, "a percentage", 55, "%")
	switch {
	case err != nil:
		return 0, err
	case unit != "%":
		return 0, keyed.Wrongf("%q: %q is not a percent sign", text, unit).InsteadWrite(examples(number, "%"))
	case number < 0 || number > 100:
		return 0, keyed.Wrongf("%q is outside 0 %% to 100 %%", text).InsteadWrite(`"55 %"`)
	}
	return Ratio(number / 100), nil
}

// tempUnit gives the unit that text stands for, empty when it stands for none.
func tempUnit(text string) TempUnit {
	switch text {
	case "°C", "C", "℃", "ºC":
		return Celsius
	case "°F", "F", "℉", "ºF":
		return Fahrenheit
	}
	return ""
}

// quantity splits text into a number and a unit that is not empty. What follows text is for messages:
// the kind of quantity, a usual number and the units it may have.
func quantity(text, kind string, usual float64, units ...string) (float64, string, error) {
	digits, unit := keyed.SplitNumber(strings.TrimSpace(text))
	number, err := strconv.ParseFloat(digits, 64)
	switch {
	case err != nil || strings.Trim(digits, "+-0123456789.") != "" || !isDigit(lastByte(digits)):
		return 0, "", keyed.Wrongf("%q is not %s", text, kind).InsteadWrite(examples(usual, units...))
	case strings.HasPrefix(unit, ",") && len(unit) > 1 && isDigit(unit[1]):
		return 0, "", keyed.Wrongf("%q has a decimal comma", text).InsteadWrite(strconv.Quote(strings.Replace(text, ",", ".", 1)))
	case unit == "":
		return 0, "", keyed.Wrongf("%q has no unit", text).InsteadWrite(examples(number, units...))
	}
	return number, unit, nil
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

func lastByte(text string) byte {
	if text == "" {
		return 0
	}
	return text[len(text)-1]
}

// decimal writes v in full, without an exponent, so that it reads back the same.
func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// examples writes number with each of the units, as values of the file.
func examples(number float64, units ...string) string {
	out := make([]string, len(units))
	for i, u := range units {
		out[i] = fmt.Sprintf(`"%s %s"`, decimal(number), u)
	}
	return strings.Join(out, " or ")
}
