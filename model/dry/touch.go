package dry

import (
	"math"
	"time"
)

// TouchTests sums up what touch tests said about earlier coats of the same
// product on the same ground. The zero value is no test.
//
// Predicted times are those of this package for the air the coat really had,
// with Touch left zero; otherwise a correction would be counted twice.
type TouchTests struct {
	Count int     // tests counted
	SumLn float64 // sum of ln(observed/predicted)
}

// widestBracket is the longest ratio of "dry" to "still tacky" that fixes the
// dry time well enough to tighten the band: judgement.
const widestBracket = 2.0

// Observed adds one coat whose dry time is known: the time it took, and the
// time predicted. Times that are not positive change nothing.
func (t TouchTests) Observed(observed, predicted time.Duration) TouchTests {
	if observed <= 0 || predicted <= 0 {
		return t
	}
	t.Count++
	t.SumLn += math.Log(observed.Seconds() / predicted.Seconds())
	return t
}

// Bracketed adds one coat known by its checks: when it was last found tacky (0:
// never) and when it was first found dry (0: not yet). A shop that looks at its
// coats the next morning must not learn that they take all night, so a bracket
// that holds the expected time and is wider than a factor of two says nothing.
// A bracket that excludes the expected time counts at its geometric middle, or
// at the one end that is known.
func (t TouchTests) Bracketed(tacky, dry, predicted time.Duration) TouchTests {
	expected := time.Duration(float64(predicted) * t.Factor())
	switch closed := tacky > 0 && dry > tacky; {
	case closed && (dry.Seconds() <= widestBracket*tacky.Seconds() || tacky > expected || dry < expected):
		middle := math.Sqrt(tacky.Seconds() * dry.Seconds())
		return t.Observed(time.Duration(middle*float64(time.Second)), predicted)
	case dry <= 0 && tacky > expected:
		return t.Observed(tacky, predicted)
	case tacky <= 0 && dry > 0 && dry < expected:
		return t.Observed(dry, predicted)
	}
	return t
}

// Factor is the correction of the sheet's time: the geometric mean of
// observed/predicted, with the sheet itself counted as one test.
func (t TouchTests) Factor() float64 {
	return math.Exp(t.SumLn / float64(1+t.Count))
}

// BaseLnSD is the spread of ln dry time at the reference air that is left
// after the tests.
func (t TouchTests) BaseLnSD() float64 {
	return math.Sqrt(handSD*handSD + (sheetSD*sheetSD-handSD*handSD)/float64(1+t.Count))
}
