package longhand

import (
	"fmt"
	"math"

	"pourward/sensors"
)

// qualityName and faultName are written as the words by which they call themselves. A number that has no
// word in this version calls itself by its number, and is read in all the same.
type (
	qualityName sensors.Quality
	faultName   sensors.Fault
)

// MarshalText gives the word.
func (q qualityName) MarshalText() ([]byte, error) { return []byte(sensors.Quality(q).String()), nil }

// MarshalText gives the word.
func (f faultName) MarshalText() ([]byte, error) { return []byte(sensors.Fault(f).String()), nil }

// UnmarshalText reads the word.
func (q *qualityName) UnmarshalText(text []byte) error {
	for n := range math.MaxUint8 + 1 {
		if sensors.Quality(n).String() == string(text) {
			*q = qualityName(n)
			return nil
		}
	}
	return fmt.Errorf("%q is not a quality", text)
}

// UnmarshalText reads the word.
func (f *faultName) UnmarshalText(text []byte) error {
	for n := range math.MaxUint8 + 1 {
		if sensors.Fault(n).String() == string(text) {
			*f = faultName(n)
			return nil
		}
	}
	return fmt.Errorf("%q is not a fault", text)
}
