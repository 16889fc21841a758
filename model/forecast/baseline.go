package forecast

import "math"

// The baselines every forecast has to beat, and how their bands are made: by split conformal prediction on the
// ratio of true to told completion time, over the last three weeks' outcomes.
const (
	basePersistence = iota
	baseYesterday
	baseProfile
	baseClimatology
	baselines
)

var baselineNames = [baselines]string{"persistence", "yesterday", "profile", "climatology"}

const (
	profileDays      = 4
	climateDays      = 7
	profileFadeHours = 12
	baselineWindow   = 21 * 24 // hours of outcomes that make a baseline's band
	baselineMinimum  = 24      // outcomes before it gives one
)

// profile is the mean of the same clock hour on the last four days, each counting 0.7 of the next, plus the
// present offset from that profile, fading.
func (r *replay) profile(lead int) float64 {
	then := r.daysAgo(r.nextHour + int64(lead) - 1 - int64(dayBack(lead)))
	now := r.daysAgo(r.nextHour - 1 - 24)
	return then + (r.truth.at(r.nextHour-1)-now)*math.Exp(-float64(lead)/profileFadeHours)
}

func (r *replay) daysAgo(hour int64) float64 {
	sum, weight, w := 0.0, 0.0, 1.0
	for day := range int64(profileDays) {
		if v := r.truth.at(hour - 24*day); !math.IsNaN(v) {
			sum, weight = sum+w*v, weight+w
		}
		w *= 0.7
	}
	return sum / weight
}

// baselineCompletion runs a cure along a baseline's forecast; its last day is repeated past 72 hours.
func (r *replay) baselineCompletion(b int, c Cure) float64 {
	age, lastDay := 0.0, 0.0
	for lead := 1; lead <= leads; lead++ {
		gain := c.Rate(r.baselineAt(b, lead))
		if math.IsNaN(gain) {
			return math.NaN()
		}
		if age+gain >= c.NeedHours {
			return float64(lead-1) + (c.NeedHours-age)/gain
		}
		age += gain
		if lead > leads-24 {
			lastDay += gain
		}
	}
	return leads + (c.NeedHours-age)/lastDay*24
}

func (r *replay) baselineAt(b, lead int) float64 {
	switch b {
	case basePersistence:
		return r.last.TempC
	case baseYesterday:
		return r.truth.at(r.nextHour + int64(lead) - 1 - int64(dayBack(lead)))
	case baseProfile:
		return r.profile(lead)
	default:
		return r.climatology(lead)
	}
}

// climatology is the mean of the same clock hour on the last seven days.
func (r *replay) climatology(lead int) float64 {
	hour := r.nextHour + int64(lead) - 1 - int64(dayBack(lead))
	sum, n := 0.0, 0.0
	for day := range int64(climateDays) {
		if v := r.truth.at(hour - 24*day); !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}
