package forecast

import "math"

// ShadowScore is what the shadow cures of one length say about the bands given out. The means are forgotten with
// a half-life of two weeks and are NaN before the first end; times are in hours.
type ShadowScore struct {
	NeedHours                                           float64
	Scored                                              int
	Coverage, WidthHours, IntervalScoreHours, CRPSHours float64
	PIT                                                 [pitBins]int // rank counts of the truth among the ensemble; flat is honest
	AlphaEarly, AlphaLate                               float64      // current tail levels, 0.1 when nothing needs correcting
}

// Shadows reports on the shadow cures, in the order of Options.Shadows.
func (f *Forecaster) Shadows() []ShadowScore {
	var out []ShadowScore
	for i := range f.shadowCount {
		s := &f.shadows[i]
		r := s.running
		out = append(out, ShadowScore{
			NeedHours: s.need, Scored: s.scored, PIT: s.pit,
			Coverage: r.held / r.weight, WidthHours: r.width / r.weight,
			IntervalScoreHours: r.interval / r.weight, CRPSHours: r.crps / r.weight,
			AlphaEarly: s.cal.Early.Alpha, AlphaLate: s.cal.Late.Alpha,
		})
	}
	return out
}

// Band reads the calibrated 80 % band off completion times in ascending order, as from Paths.Completions. The
// correction is that of the shadow cures about as long; without shadows it is the plain 10, 50 and 90 %.
func (f *Forecaster) Band(sorted []float64) Band {
	c := f.calibratorFor(Quantile(sorted, 0.5))
	return c.Band(sorted)
}

// calibratorFor mixes the calibrators of the two shadows whose lengths enclose hours, on a log scale.
func (f *Forecaster) calibratorFor(hours float64) Calibrator {
	known := f.shadows[:f.shadowCount]
	if len(known) == 0 {
		return NewCalibrator()
	}
	i := 0
	for i < len(known) && known[i].typicalHours() < hours {
		i++
	}
	switch i {
	case 0:
		return known[0].cal
	case len(known):
		return known[i-1].cal
	}
	short, long := &known[i-1], &known[i]
	share := math.Log(hours/short.typicalHours()) / math.Log(long.typicalHours()/short.typicalHours())
	mixed := short.cal
	mixed.Early.Alpha += share * (long.cal.Early.Alpha - short.cal.Early.Alpha)
	mixed.Late.Alpha += share * (long.cal.Late.Alpha - short.cal.Late.Alpha)
	return mixed
}
