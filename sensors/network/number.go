package network

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// finite reports that none of the values is NaN or infinite.
func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// number returns the finite number that a JSON value is.
func (f *form) number(v any) (float64, error) {
	switch v := v.(type) {
	case json.Number:
		return parseNumber(v.String())
	case string:
		text := strings.TrimSpace(v)
		if !f.NumericStrings {
			return 0, fmt.Errorf("it is the text %.20q", v)
		}
		if !isJSONNumber(text) {
			return 0, fmt.Errorf("%.20q is not a number", v)
		}
		return parseNumber(text)
	}
	return 0, fmt.Errorf("it is of another kind")
}

// parseNumber returns a finite number. Beyond the range of float64 there is none.
func parseNumber(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !finite(v) {
		return 0, fmt.Errorf("%.20q is not a finite number", text)
	}
	return v, nil
}

// isJSONNumber keeps out what ParseFloat reads besides: NaN, infinities, hexadecimals, underscores.
func isJSONNumber(text string) bool {
	return text != "" && (text[0] == '-' || text[0] >= '0' && text[0] <= '9') && json.Valid([]byte(text))
}

// parseInstant reads a time as RFC 3339 has it.
func parseInstant(text string) (time.Time, error) {
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return time.Time{}, fmt.Errorf("%.40q is not like 2026-01-14T12:00:00Z", text)
	}
	return instantOf(float64(at.UnixMilli()))
}

// instantOf returns milliseconds since 1970 as an instant. Years before 1970 and from 2200 are refused.
func instantOf(millis float64) (time.Time, error) {
	const from2200 = 7258118400000
	if !(millis > 0 && millis < from2200) {
		return time.Time{}, fmt.Errorf("it is not between 1970 and 2200")
	}
	return time.UnixMilli(int64(math.Round(millis))).UTC(), nil
}
