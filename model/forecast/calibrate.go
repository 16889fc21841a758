package forecast

import "math"

// ACI is adaptive conformal inference: it moves the level alpha of a prediction set so that in the long run
// the set misses the target share of outcomes, whatever the outcomes do. Source: Gibbs and Candès, Adaptive
// conformal inference under distribution shift, NeurIPS 2021, eq. 2.
type ACI struct {
	Target float64 // wanted share of misses: 0.2 for an 80 % band
	Gamma  float64 // step size
	Alpha  float64 // current level: 0 or less asks for everything, 1 or more for nothing
}

// NewACI starts at its target.
func NewACI(target, gamma float64) ACI { return ACI{Target: target, Gamma: gamma, Alpha: target} }

// Update moves the level after one outcome: down after a miss, up after a hit.
func (a *ACI) Update(missed bool) {
	miss := 0.0
	if missed {
		miss = 1
	}
	a.Alpha += a.Gamma * (a.Target - miss)
}

// Band is a completion time as earliest, likely and latest: 10, 50 and 90 % of what may happen, in hours.
// Latest is +Inf where some of what may happen does not complete at all.
type Band struct{ Earliest, Likely, Latest float64 }

// Holds reports whether an outcome lies in the band.
func (b Band) Holds(hours float64) bool { return b.Earliest <= hours && hours <= b.Latest }

// WidthHours from earliest to latest.
func (b Band) WidthHours() float64 { return b.Latest - b.Earliest }

// NotBefore reports whether the band reaches past the 72 hours a forecast covers. What lies beyond repeats the
// last day and is no projection: say "not before", with the earliest time or 72 hours, whichever is sooner.
func (b Band) NotBefore() (hours float64, ok bool) { return min(b.Earliest, leads), b.Latest > leads }

// Calibrator corrects the two ends of an 80 % band separately, each by its own ACI, so that a shop that keeps
// being slower than forecast moves the latest and leaves the earliest alone.
type Calibrator struct{ Early, Late ACI }

const (
	tailShare = 0.1 // wanted beyond either end
	// gammaPerOutcome is the usual step of 0.03 shared among a day's shadow cures: they start every three hours
	// and overlap, so that a cold day is one lesson and not eight.
	gammaPerOutcome = 0.03 / hindcastsPerDay
	// A quiet month must not wind the levels so far up that the first front finds the band shut, nor a bad one so
	// far down that it stays open for weeks.
	minAlpha, maxAlpha = -0.2, 0.35
	// stretchPerAlpha is how fast a band grows beyond its outermost path, per unit of alpha below zero.
	stretchPerAlpha = 5
)

// NewCalibrator aims at an 80 % band, a tenth beyond either end.
func NewCalibrator() Calibrator {
	return Calibrator{Early: NewACI(tailShare, gammaPerOutcome), Late: NewACI(tailShare, gammaPerOutcome)}
}

// Band reads the corrected band off an ensemble of completion times in ascending order.
func (c *Calibrator) Band(sorted []float64) Band {
	return Band{
		Earliest: tail(sorted, c.Early.Alpha, 0),
		Likely:   Quantile(sorted, 0.5),
		Latest:   tail(sorted, c.Late.Alpha, 1),
	}
}

// Learn takes the truth about a band given out earlier.
func (c *Calibrator) Learn(given Band, actualHours float64) {
	c.early(actualHours < given.Earliest)
	c.late(actualHours > given.Latest)
}

func (c *Calibrator) early(missed bool) { update(&c.Early, missed) }
func (c *Calibrator) late(missed bool)  { update(&c.Late, missed) }

func update(a *ACI, missed bool) {
	a.Update(missed)
	a.Alpha = min(max(a.Alpha, minAlpha), maxAlpha)
}

// tail is the quantile that leaves alpha beyond it on one side (0 early, 1 late). An alpha below zero asks for
// more than any path shows: the outermost path's ratio to the median is then stretched.
func tail(sorted []float64, alpha, side float64) float64 {
	q := Quantile(sorted, math.Abs(side-max(alpha, 0)))
	mid := Quantile(sorted, 0.5)
	if alpha >= 0 || mid <= 0 || math.IsInf(q, 1) {
		return q
	}
	return mid * math.Pow(q/mid, 1-stretchPerAlpha*alpha)
}
