package sensors

import (
	"errors"
	"fmt"
)

// Correction is what the maker found when comparing a probe with something better. It is applied after a
// value has been judged: the codes a chip answers with when it fails are told by the raw value.
type Correction struct {
	OffsetK float64 // added to the temperature, K
	// Humidity are two points of relative humidity, as over two saturated salts: what the probe reads there
	// and what it is. Without them the humidity stays as it is.
	Humidity [2]HumidityPoint
}

// HumidityPoint is one comparison, ratios 0..1.
type HumidityPoint struct{ Reads, Is float64 }

// leastApart is how far apart two points must be to tell a slope, ratio.
const leastApart = 0.2

// Check reports what makes a correction useless.
func (c Correction) Check() error {
	low, high := c.Humidity[0], c.Humidity[1]
	if low == high && low == (HumidityPoint{}) {
		return nil
	}
	for _, v := range []float64{low.Reads, low.Is, high.Reads, high.Is} {
		if !(v >= 0 && v <= 1) {
			return fmt.Errorf("a humidity of %g is not from 0 to 1", v)
		}
	}
	if high.Reads-low.Reads < leastApart || high.Is-low.Is < leastApart {
		return errors.New("the two humidity points must be 20 % apart or more, the lower first: compare over two different salts")
	}
	return nil
}

// Correct puts a judged reading right. One that stands for a failed attempt stays as it is.
func (c Correction) Correct(r Reading) Reading {
	if r.Err == nil {
		r.Temp, r.Humidity = c.apply(r.Temp, r.Humidity)
	}
	return r.Rounded()
}

// apply corrects two judged values.
func (c Correction) apply(temp, humidity Measure) (Measure, Measure) {
	if temp.Quality != Missing {
		temp.Value += c.OffsetK
	}
	if low, high := c.Humidity[0], c.Humidity[1]; humidity.Quality != Missing && low != high {
		slope := (high.Is - low.Is) / (high.Reads - low.Reads)
		humidity.Value = min(1, max(0, low.Is+slope*(humidity.Value-low.Reads)))
	}
	return temp, humidity
}
